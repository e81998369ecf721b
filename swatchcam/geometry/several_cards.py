"""Several cards in one photo, told apart: which tags belong to one card, of one design or of several.

Two prints of one design bear the same tags. A card is grown from one tag: its corners tell roughly where its
neighbours must be, with each tag found the rest is told more surely, and the tags of another card lie elsewhere.
"""

from __future__ import annotations

from collections.abc import Sequence

import cv2
import numpy as np

from ..arrays import Array
from ..cards.design import CardDesign, designs
from ..errors import FindError
from ..photo.photo import Photo
from .pose import Pose, pose_of
from .projection import corners_of
from .tags import every_tag, refine_corners

NEAR = 3.0  # tag sides off the place where it is looked for; another card's tag lies at least ten off

Seen = tuple[int, Array]  # tag number, its corners (4, 2) px


def find_cards(photo: Photo) -> tuple[Pose, ...]:
    """Every card in the photo, in the order of `designs` and then as its tags were found.

    Raises
    ------
    FindError
        No card, too few tags of one of them, or one that is too small, too tilted, curled or blurred.
    """
    # One tag must foretell the next across the card: rough corners would not do.
    tags = [(number, refine_corners(photo, corners)) for number, corners in every_tag(photo)]
    found = [
        pose_of(photo, design, dict(card))
        for design in designs().values()
        for card in _cards_of(design, [tag for tag in tags if tag[0] in {own.id for own in design.tags}])
    ]
    if not found:
        raise FindError(
            "No card can be seen in the photo.", "Show both cards whole, one beside the other, and shoot again."
        )
    return tuple(found)


def _cards_of(design: CardDesign, tags: Sequence[Seen]) -> list[list[Seen]]:
    """The tags of one design, card by card."""
    cards, left = [], list(tags)
    while left:
        card = _grown(design, left[0], left[1:])
        cards.append(card)
        left = [tag for tag in left if not any(tag is own for own in card)]
    return cards


def _grown(design: CardDesign, first: Seen, others: Sequence[Seen]) -> list[Seen]:
    """All tags that lie on one card with the first, looked for from the nearest to the farthest."""
    on_card = {tag.id: corners_of(tag.box) for tag in design.tags}
    middles = {number: corners.mean(axis=0) for number, corners in on_card.items()}
    away = {number: float(np.linalg.norm(middle - middles[first[0]])) for number, middle in middles.items()}
    card = [first]
    for number in sorted(set(away) - {first[0]}, key=away.__getitem__):
        place = _foreseen(card, on_card, number)
        side = float(np.linalg.norm(place[1] - place[0]))
        off = [(float(np.abs(seen[1] - place).max()), i) for i, seen in enumerate(others) if seen[0] == number]
        if off and min(off)[0] < NEAR * side:
            card.append(others[min(off)[1]])
    return card


def _foreseen(card: Sequence[Seen], on_card: dict[int, Array], number: int) -> Array:
    """(4, 2) px where a tag must be, by the plane through those already found."""
    millimetres = np.concatenate([on_card[own] for own, _ in card])
    plane, _ = cv2.findHomography(millimetres, np.concatenate([corners for _, corners in card]))
    return np.asarray(cv2.perspectiveTransform(on_card[number][None], plane)[0])
