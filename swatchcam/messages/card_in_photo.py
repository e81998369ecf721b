"""What is said of the card in a photo: whether it is seen, which one it is, how it lies, how sharp it is."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from ..text import listed
from .surface import Catalogue, On


def _blurred(read: int = 0, count: int | None = None, edge_mm: float | None = None, **_: Any) -> str:
    blurred = "The photo is blurred or shaken"
    if edge_mm is not None:
        return f"{blurred} (edges spread over {edge_mm:.1f} mm)."
    if count is not None:
        return f"{blurred}: only {read} of the card's {count} corner and edge tags can be read."
    return f"{blurred}: there are squares like a card's in it, but no tag can be read."


def _hidden(tags: Sequence[int], **_: Any) -> str:
    named = listed([str(tag) for tag in tags])
    return f"{'tag' if len(tags) == 1 else 'tags'} {named} can't be read: covered or cut off?"


def _unread(like: Sequence[str], **_: Any) -> str:
    looks = f" It looks like {like[0]}." if len(like) == 1 else ""
    return f"the card's number can't be read: is it covered, blurred, in glare or cut off?{looks}"


PROBLEMS: Catalogue = {
    "no-card": "No card can be seen in the photo.",
    "card-without-tags": "There are squares like a card's in the photo, but none of the tags that every card has.",
    "card-unknown": "The tags in the photo (number {tags:comma}) do not belong to any card known here.",
    "two-cards": "There are two cards in the photo (tag {tag} is seen twice).",
    "two-designs": "There are two different cards in the photo ({designs:listed}).",
    "photo-mirrored": "The photo is mirrored: the card's tags read the wrong way round.",
    "too-few-tags": "Only {read} of the card's {count} corner and edge tags can be read.",
    "photo-blurred": _blurred,
    "tags-not-on-a-plane": "The card's tags do not all lie in one plane.",
    "card-not-flat": "The card is not flat: its tags lie up to {off_mm:.1f} mm out of one plane.",
    "card-too-small": "The card is too small in the photo ({coverage:.0%} of the picture, {px_per_mm:.1f} pixels"
    " per mm).",
    "photo-at-a-slant": "The photo was taken at an angle: the phone was tilted by about {degrees:.0f}°.",
    "white-overexposed": "The white of the card is overexposed ({share:.0%} of it is at full scale).",
    "photo-too-dark": "The photo is too dark.",
}
REMEDIES: Catalogue = {
    "show-the-card": "Lay the printed card flat in good light, get all of it in the picture, tap it to focus, and take"
    " the photo again.",
    "show-both-cards": "Lay both cards side by side, get all of both in the picture, and take the photo again.",
    "show-one-card": "Leave only one card in the picture, and take the photo again.",
    "use-a-printed-card": On(
        terminal="Use a card printed with 'swatchcam card print', uncover its corners, and take the photo again.",
        page="Use a card that was printed on the studio's computer, uncover its corners, and take the photo again.",
    ),
    "use-a-known-card": On(
        terminal="Use a card printed with 'swatchcam card print', or put its design file into your card folder.",
        page="Use a card that was printed on the studio's computer, or put its design file into the card folder there.",
    ),
    "turn-off-mirroring": "Turn off mirroring in the camera app (front cameras often mirror), and take the photo"
    " again.",
    "uncover-the-card": "Uncover the whole card, keep it inside the picture and in focus, and take the photo again.",
    "hold-still": "Rest the phone on something, tap the card to focus, and take the photo again.",
    "lay-the-card-flat": "Lay the card flat, and take the photo again.",
    "flatten-the-card": "Weigh its corners down or mount it on board, and take the photo again.",
    "go-nearer": "Move closer until the card fills most of the picture, and take the photo again.",
    "hold-it-square": "Hold the phone straight above the card and parallel to it, and take the photo again.",
    "expose-lower": "Tap the card, slide the exposure down by about one stop, and take the photo again.",
    "bring-more-light": "Get more light on the card, and take the photo again.",
}
FLAGS: Catalogue = {
    "card-not-quite-flat": "the card is not quite flat ({off_mm:.1f} mm): weigh its corners down",
    "card-partly-outside": "part of the card is outside the picture",
    "photo-slightly-blurred": "the photo is slightly blurred: tap the card to focus",
    "tags-hidden": _hidden,
    "number-unread": _unread,
    "white-partly-overexposed": "part of the card's white is overexposed: slide the exposure down a little",
}
