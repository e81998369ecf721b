"""What is said with a code: flags, findings, refusals."""

from __future__ import annotations

from typing import Annotated, Any, NotRequired, TypedDict


class PlaceJson(TypedDict):
    """One part of where a refusal happened."""

    code: Annotated[str, "such as `in-photo`"]
    facts: Annotated[dict[str, Any], "what belongs to it, such as the photo"]


class FindingJson(TypedDict):
    """What was found or done, as a code: in `findings`, `signals`, `changes`."""

    code: Annotated[str, "what it is; it stays the same when the sentence is reworded"]
    facts: Annotated[dict[str, Any], "names and numbers of the sentence"]
    sentence: Annotated[str, "the same in words"]


class FlagJson(FindingJson):
    """A flag, why a number may be weak: in `flags` and `notes` of what is measured."""

    photo: NotRequired[Annotated[str, "the photo it is about; left out if it is about all of them"]]
    strip: NotRequired[Annotated[str, "the strip it is about; left out if it is about all of them"]]


class RefusalJson(TypedDict):
    """A refusal: what is wrong and what to do about it."""

    kind: Annotated[str, "the Python exception, such as `LightError`"]
    code: Annotated[str, "what is wrong; it stays the same when the sentence is reworded"]
    facts: Annotated[dict[str, Any], "names and numbers of the sentences"]
    remedy: Annotated[str, "what to do next, as a code"]
    where: Annotated[list[PlaceJson], "where it happened, the outermost first"]
    problem: Annotated[str, "what is wrong, in words"]
    next: Annotated[str, "what to do next, in words"]


class RefusedJson(TypedDict):
    """What every command prints with `--json` when it refuses; it exits with 2 or 3."""

    refused: Annotated[RefusalJson, "what is wrong and what to do about it"]
