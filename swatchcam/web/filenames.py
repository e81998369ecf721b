"""What a sender calls files -> names to be shown."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Sequence

LONGEST = 80  # letters of a name
UNNAMED = "photo"
# Letters by Unicode's count that show nothing: fillers and a blank of Braille.
BLANK = dict.fromkeys(map(ord, "\u034f\u115f\u1160\u17b4\u17b5\u2800\u3164\uffa0"), " ")


def clean_names(names: Sequence[str]) -> tuple[str, ...]:
    """What a sender calls files -> names to be shown: without folders and what cannot be seen, each another.

    Phones call every photo alike; the second "image.jpg" becomes "image (2).jpg".
    """
    clean: list[str] = []
    for name in map(_clean, names):
        stem, dot, suffix = name.rpartition(".") if "." in name[-11:] else (name, "", "")
        other, number = name, 1
        while other in clean:
            number += 1
            end = f" ({number}){dot}{suffix}"
            other = stem[: LONGEST - len(end)] + end
        clean.append(other)
    return tuple(clean)


def _clean(name: str) -> str:
    last = re.split(r"[/\\]", unicodedata.normalize("NFC", name))[-1].translate(BLANK)
    seen = " ".join("".join(sign if sign.isprintable() else " " for sign in last).split())
    short = seen[:LONGEST].rstrip()
    return short if short.strip(".") else UNNAMED
