"""Photo + card -> pose: which card, where, how it is turned, how sharp it is.

The card's tags say which card it is and which way is up; their corners give the pose. The pose is a plane seen
through a lens: eight numbers of a homography and two of radial distortion, so no camera has to be known.
"""

from __future__ import annotations

from collections.abc import Container, Iterable, Iterator, Mapping
from dataclasses import dataclass, replace

import cv2
import numpy as np

from ..arrays import Array
from ..cards.design import Box, CardDesign, Tag, designs
from ..cards.print_number import IDS, TAGS
from ..colorimetry.least_squares import least_squares
from ..errors import FindError
from ..messages.message import Flag, flag
from ..photo.photo import Photo
from ..photo.provenance import origin_flags
from .diagnosis import nothing_read, too_few_read
from .projection import corners_of, project, scale_at
from .sharpness import edge_spread
from .tags import detect_tags, is_mirrored, refine_corners, unknown_tags

MIN_TAGS = 4


MIN_PX_PER_MM = 2.6  # a patch is then still 26 px wide


MIN_FORESHORTENING = 0.72  # cosine of a tilt of about 44 degrees


MAX_BLUR_MM = 0.75  # standard deviation; the patches' inner part is then still clean


BLUR_WARNING_MM = 0.5


EDGE_IN_BLURS = 2.5  # standard deviations over which the eye sees an edge spread; no source


MAX_CURL_MM = 0.4  # rms of the tag corners off the plane; patches then lie up to 1.3 mm off


CURL_WARNING_MM = 0.2


ROUNDING_PRIOR = 0.01  # half card widths: far more than blur can do


STRAIGHTENING = 12  # steps; each leaves less than a fifth of the distortion


DISTORTION_PRIOR = (0.08, 0.03)  # phone lenses after the phone's own correction stay well inside


@dataclass(frozen=True)
class Pose:
    """Where the card lies in the photo.

    A point (x, y) mm on the card goes to `centre + radius · u (1 + k1 |u|² + k2 |u|⁴)`, u = homography · (x, y, 1).
    """

    design: CardDesign
    homography: tuple[float, ...]  # 9 numbers, row by row, mm -> units of `radius` around `centre`
    distortion: tuple[float, float]
    centre: tuple[float, float]  # px
    radius: float  # px, half of the photo's diagonal
    tags: tuple[int, ...]  # tag numbers found
    missing: tuple[int, ...]  # tag numbers of the design not found
    residual_mm: float  # rms of the tag corners off the fitted plane
    px_per_mm: float  # geometric mean of both directions at the card's centre
    foreshortening: float  # shorter over longer direction there, about the cosine of the tilt
    coverage: float  # card width over frame width
    blur_mm: float  # standard deviation of the edge spread, on the card
    flags: tuple[Flag, ...]

    def to_photo(self, points: Array) -> Array:
        """(..., 2) mm on the card's plane -> (..., 2) px in the photo."""
        return project(
            np.array(self.homography).reshape(3, 3),
            np.array(self.distortion),
            points,
            self.centre,
            self.radius,
        )

    def to_card(self, points: Array) -> Array:
        """(..., 2) px in the photo -> (..., 2) mm on the card's plane."""
        bent = (points - np.array(self.centre)) / self.radius
        straight = bent
        for _ in range(STRAIGHTENING):
            square = (straight**2).sum(axis=-1, keepdims=True)
            straight = bent / (1 + square * (self.distortion[0] + square * self.distortion[1]))
        far = np.concatenate([straight, np.ones_like(straight[..., :1])], axis=-1)
        on_card = far @ np.linalg.inv(np.array(self.homography).reshape(3, 3)).T
        return np.asarray(on_card[..., :2] / on_card[..., 2:])

    def outline(self) -> Array:
        """(4, 2) px, the card's own corners in the photo."""
        return self.to_photo(corners_of(Box(0, 0, *self.design.size_mm)))


def find_card(photo: Photo, design: CardDesign | None = None) -> Pose:
    """Find the card in a photo and solve its pose.

    Parameters
    ----------
    photo : upright photo
    design : look for this card only; by default any card known here

    Raises
    ------
    FindError
        No card, two cards, an unknown or mirrored card, too few tags, too small, too tilted, curled or blurred.
    """
    seen = detect_tags(photo)
    return pose_of(photo, _which_card(photo, seen, design), seen)


def pose_of(photo: Photo, design: CardDesign, seen: Mapping[int, Array]) -> Pose:
    """The pose of the card of this design whose tags' corners (4, 2) px were seen; other designs' tags are ignored.

    Raises
    ------
    FindError
        Too few of its tags, too small, too tilted, curled or blurred.
    """
    tags = {tag.id: tag for tag in design.tags}
    seen = {number: corners for number, corners in seen.items() if number in tags}
    missing = tuple(sorted(set(tags) - set(seen)))
    if len(seen) < MIN_TAGS or not _well_spread([tags[number] for number in seen], design):
        raise too_few_read(photo, len(seen), len(tags))
    rough = np.concatenate(list(seen.values()))
    corners = refine_corners(photo, rough)
    pose = _solve(photo, design, [tags[number] for number in seen], corners, missing)
    return _checked(pose, photo)


def cards_seen(candidates: Iterable[CardDesign], seen: Container[int]) -> list[CardDesign]:
    """The designs whose tags were seen.

    Some of a user's own designs, from before prints had numbers, use tags that numbers are made of now: where another
    card shows too, three such tags are its number, and no card.
    """
    shown = [(design, {tag.id for tag in design.tags if tag.id in seen}) for design in candidates]
    sure = [design for design, own in shown if len(own) > TAGS or own - set(IDS)]
    return sure or [design for design, own in shown if own]


def _which_card(photo: Photo, seen: Container[int], wanted: CardDesign | None) -> CardDesign:
    candidates = [wanted] if wanted else list(designs().values())
    matching = cards_seen(candidates, seen)
    if len(matching) > 1:
        raise FindError("two-designs", "show-one-card", designs=[design.name for design in matching])
    if matching:
        return matching[0]
    if is_mirrored(photo):
        raise FindError("photo-mirrored", "turn-off-mirroring")
    strangers = unknown_tags(photo)
    if strangers:
        raise FindError("card-unknown", "use-a-known-card", tags=strangers)
    raise nothing_read(photo)


def _well_spread(tags: list[Tag], design: CardDesign) -> bool:
    """Whether the tags span the card, so that nothing on it is extrapolated far."""
    centres = np.array([tag.box.centre for tag in tags])
    all_centres = np.array([tag.box.centre for tag in design.tags])
    return bool(np.all(np.ptp(centres, axis=0) > 0.7 * np.ptp(all_centres, axis=0)))


def _solve(photo: Photo, design: CardDesign, tags: list[Tag], corners: Array, missing: tuple[int, ...]) -> Pose:
    height, width = photo.pixels.shape[:2]
    centre, radius = ((width - 1) / 2, (height - 1) / 2), float(np.hypot(width, height)) / 2
    on_card = np.concatenate([corners_of(tag.box) for tag in tags])
    middle = np.array(design.size_mm) / 2
    target = (corners - centre) / radius
    # Millimetres around the card's middle, in half-widths, keep the eight numbers of one size.
    scaled = (on_card - middle) / middle[0]
    # Blur and the file's coding round a tag's corners off: all are seen a little too near to their tag's middle.
    inward = np.concatenate([np.sign(np.array(tag.box.centre) - corners_of(tag.box)) for tag in tags])
    start, _ = cv2.findHomography(scaled, target, cv2.RANSAC, 0.01)
    if start is None:
        raise FindError("tags-not-on-a-plane", "lay-the-card-flat")
    pixel = 1 / radius

    def residuals(p: Array) -> Array:
        h = np.append(p[:8], 1.0).reshape(3, 3)
        off = (project(h, p[8:10], scaled + p[10] * inward, (0.0, 0.0), 1.0) - target).ravel() / pixel
        # Huber: one corner under a speck of dirt must not bend the plane.
        size = np.abs(off)
        off = np.where(size > 1.5, np.sign(off) * np.sqrt(np.maximum(3.0 * size - 2.25, 0)), off)
        return np.append(off, p[8:] / np.array((*DISTORTION_PRIOR, ROUNDING_PRIOR)))

    first = np.append((start / start[2, 2]).ravel()[:8], [0.0, 0.0, 0.0])
    fit = least_squares(residuals, first, tolerance=1e-5)
    to_scaled = np.array([[1, 0, -middle[0]], [0, 1, -middle[1]], [0, 0, middle[0]]]) / middle[0]
    homography = np.append(fit.x[:8], 1.0).reshape(3, 3) @ to_scaled
    distortion = (float(fit.x[8]), float(fit.x[9]))
    as_seen = on_card + fit.x[10] * middle[0] * inward
    off = project(homography, np.array(distortion), as_seen, centre, radius) - corners
    long, short = scale_at(homography, np.array(distortion), middle, centre, radius)
    px_per_mm = float(np.sqrt(long * short))
    return Pose(
        design=design,
        homography=tuple(float(v) for v in homography.ravel()),
        distortion=distortion,
        centre=centre,
        radius=radius,
        tags=tuple(tag.id for tag in tags),
        missing=missing,
        residual_mm=float(np.sqrt(np.mean(np.sum(off**2, axis=1)))) / px_per_mm,
        px_per_mm=px_per_mm,
        foreshortening=short / long,
        coverage=px_per_mm * design.size_mm[0] / max(width, height),
        blur_mm=edge_spread(photo, tags, homography, np.array(distortion), centre, radius),
        flags=(),
    )


def _checked(pose: Pose, photo: Photo) -> Pose:
    if pose.px_per_mm < MIN_PX_PER_MM:
        raise FindError("card-too-small", "go-nearer", coverage=pose.coverage, px_per_mm=pose.px_per_mm)
    if pose.foreshortening < MIN_FORESHORTENING:
        tilt = np.degrees(np.arccos(pose.foreshortening))
        raise FindError("photo-at-a-slant", "hold-it-square", degrees=tilt)
    if pose.residual_mm > MAX_CURL_MM:
        raise FindError("card-not-flat", "flatten-the-card", off_mm=pose.residual_mm)
    if pose.blur_mm > MAX_BLUR_MM:
        raise FindError("photo-blurred", "hold-still", edge_mm=EDGE_IN_BLURS * pose.blur_mm)
    return replace(pose, flags=(*origin_flags(photo), *_flags(pose, photo)))


def _flags(pose: Pose, photo: Photo) -> Iterator[Flag]:
    if pose.residual_mm > CURL_WARNING_MM:
        yield flag("card-not-quite-flat", off_mm=pose.residual_mm)
    if pose.blur_mm > BLUR_WARNING_MM:
        yield flag("photo-slightly-blurred")
    if pose.missing:
        yield flag("tags-hidden", tags=pose.missing)
    if not is_inside(pose, photo):
        yield flag("card-partly-outside")


def is_inside(pose: Pose, photo: Photo) -> bool:
    """Whether the picture shows the whole card."""
    height, width = photo.pixels.shape[:2]
    px = pose.outline()
    return bool(np.all(px >= -0.5) and np.all(px <= np.array([width, height]) - 0.5))
