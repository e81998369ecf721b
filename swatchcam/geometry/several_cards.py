"""Several cards in one photo, told apart: which tags belong to one card, of one design or of several.

Two prints of one design bear the same tags. Those of one card lie on one plane as they do on its design, and the tags
of another card lie elsewhere.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from ..arrays import Array, Mask
from ..cards.design import CardDesign, designs
from ..errors import FindError
from ..photo.photo import Photo
from .pose import Pose, cards_seen, pose_of
from .projection import corners_of
from .tags import every_tag, refine_corners

NEAR = 0.5  # tag sides off its place on the plane, for lens and curl; another card's tag lies at least ten off
TRIALS = 300  # draws of four corners; of two cards' corners every eighth draw is of one card

SeenTag = tuple[int, Array]  # tag number, its corners (4, 2) px


def find_cards(photo: Photo) -> tuple[Pose, ...]:
    """Every card in the photo, in the order of `designs` and then as its tags were found.

    Raises
    ------
    FindError
        No card, too few tags of one of them, or one that is too small, too tilted, curled or blurred.
    """
    # One tag must predict the next across the card: rough corners would not do.
    tags = [(number, refine_corners(photo, corners)) for number, corners in every_tag(photo)]
    found = [
        pose_of(photo, design, dict(card))
        for design in cards_seen(designs().values(), dict(tags))
        for card in _cards_of(design, [tag for tag in tags if tag[0] in {own.id for own in design.tags}])
    ]
    if not found:
        raise FindError("no-card", "show-both-cards")
    return tuple(found)


def _cards_of(design: CardDesign, tags: Sequence[SeenTag]) -> list[list[SeenTag]]:
    """The tags of one design, card by card."""
    cards, left = [], list(tags)
    while left:
        own = _on_one_plane(design, left)
        cards.append([tag for tag, here in zip(left, own, strict=True) if here])
        left = [tag for tag, here in zip(left, own, strict=True) if not here]
    return cards


def _on_one_plane(design: CardDesign, tags: Sequence[SeenTag]) -> Mask:
    """(n,) which tags lie on one plane as they lie on the card: the most that do, or where none does the first."""
    from skimage.measure import ransac  # loads scipy: off the measuring road, and where no tag is read, nobody waits
    from skimage.transform import ProjectiveTransform

    on_card = {tag.id: corners_of(tag.box) for tag in design.tags}
    seen = np.array([corners for _, corners in tags])
    side = float(np.median(np.linalg.norm(seen[:, 1] - seen[:, 0], axis=1)))
    pairs = np.concatenate([on_card[number] for number, _ in tags]), np.concatenate(seen)
    _, near = ransac(pairs, ProjectiveTransform, 4, NEAR * side, max_trials=TRIALS, rng=0)
    whole: Mask = near.reshape(-1, 4).all(axis=1)
    return whole if whole.any() else np.arange(len(tags)) == 0
