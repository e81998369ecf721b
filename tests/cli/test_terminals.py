"""A terminal or pipe that does not know every letter still gets an answer."""

from __future__ import annotations

import json
import os
import subprocess
import sys

import pytest


@pytest.fixture(scope="module")
def typed():
    """Words, and the coding of the pipe they print to -> what came out, as bytes."""

    def run(words, coding):
        settings = os.environ | {"PYTHONIOENCODING": coding}
        return subprocess.run(
            [sys.executable, "-m", "swatchcam", *words], check=False, capture_output=True, env=settings
        )

    return run


@pytest.mark.parametrize("coding", ["cp1252", "latin-1", "utf-8"])
def test_a_check_is_told_in_any_coding(typed, fair, values_path, coding):
    done = typed(["check", str(fair.path), "--card", str(values_path), "--numbers"], coding)
    assert done.returncode in (0, 4, 5)
    assert done.stderr == b""
    delta = b"\xce\x94L*" if coding == "utf-8" else b"\\u0394L*"
    assert delta in done.stdout


@pytest.mark.parametrize("coding", ["cp1252", "utf-8:strict"])
def test_json_stays_json_where_a_letter_cannot_be_shown(typed, coding):
    done = typed(["card", "show", os.fsdecode(b"no\xffcard"), "--json"], coding)
    assert done.returncode == 3
    refused = json.loads(done.stdout.decode(coding.split(":")[0]))["refused"]
    assert refused["kind"] == "CardError"
    assert os.fsdecode(b"no\xffcard") in refused["problem"]


def test_a_refusal_is_told_in_any_coding(typed):
    done = typed(["measure", "nowhere/\u0394.jpg"], "cp1252")
    assert done.returncode == 3
    assert b"\\u0394.jpg" in done.stderr
    assert len(done.stderr.splitlines()) == 2


def test_matrices_are_multiplied_by_one_thread():
    left = {name: value for name, value in os.environ.items() if name != "OPENBLAS_NUM_THREADS"}
    code = "import os, sys, swatchcam.cli; print(os.environ['OPENBLAS_NUM_THREADS'], 'numpy' in sys.modules)"
    done = subprocess.run([sys.executable, "-c", code], check=True, capture_output=True, text=True, env=left)
    assert done.stdout.split() == ["1", "False"]
