"""What is said of a photo's file: its format, its colours, and whether it is what the camera saved."""

from __future__ import annotations

from typing import Any

from .surface import Catalogue, On


def _jpeg_not_rgb(colours: int, bits: int, **_: Any) -> str:
    kind = "CMYK" if colours == 4 else f"{colours} colours of {bits} bits"
    return f"The picture is stored as {kind}, not as 8-bit RGB."


def _tiff_not_rgb(cmyk: bool, **_: Any) -> str:
    return "The picture is stored as CMYK, not as RGB." if cmyk else "The picture is not stored as RGB."


def _too_large(most: float, **_: Any) -> str:
    return f"The file is larger than {most / 1e6:.0f} MB."


def _too_many_pixels(width: int, height: int, most: float, **_: Any) -> str:
    return f"The picture has {width} x {height} pixels; at most {most / 1e6:.0f} million can be read."


def _srgb_assumed(stated: str, **_: Any) -> str:
    why = {
        "uncalibrated": "no colour profile, and the camera says that it is not sRGB",
        "own gamma": "no colour profile; the file's own gamma and primaries were ignored",
        "video": "no colour profile; the file only names the colours of a video",
    }
    return f"{why.get(stated, 'no colour profile')}: read as sRGB"


PROBLEMS: Catalogue = {
    # The file
    "photo-missing": On(terminal="There is no such file.", page="The photo did not arrive."),
    "photo-is-folder": "This is a folder.",
    "photo-not-opened": "The file can't be opened: {cause:problem}.",
    "photo-file-too-large": _too_large,
    "file-empty": "The file is empty.",
    "file-cut-short": "The file is cut short: the end of the picture is missing.",
    "file-damaged": "The file is damaged: the picture in it can't be read.",
    "too-many-pixels": _too_many_pixels,
    "too-few-pixels": "The picture has only {width} x {height} pixels; its long side needs at least {least}.",
    # Its format
    "not-a-picture": "This is not a picture that can be read.",
    "format-not-read": "{format} pictures can't be read.",
    "film-or-raw": "This is a moving picture, or a raw photo of a kind that can't be read.",
    "film-or-burst": "The file holds a moving picture or a burst, not a single photo.",
    "raw-other-than-dng": "This is a raw photo. The only raw photos that can be read are DNG.",
    "webp": "WebP pictures come from the web or a chat, and have lost fine colour on the way.",
    "pdf": "This is a PDF document, not a photo.",
    "bmp": "BMP pictures do not say what their colours mean.",
    "few-colours": "The picture has no more than 256 colours.",
    "animated": "The picture is animated.",
    "several-pictures": "The file holds more than one picture.",
    "partly-transparent": "The picture is partly transparent.",
    "photo-without-colour": "The picture is black and white: it has no colour to measure.",
    "jpeg-not-rgb": _jpeg_not_rgb,
    "tiff-not-rgb": _tiff_not_rgb,
    "tiff-numbers-unusual": "The picture is stored in floating-point or signed numbers.",
    "tiff-bits-unusual": "The picture is not stored in 8 or 16 bits per colour.",
    "tiff-planes-separate": "The picture keeps its colours in separate planes.",
    "dng-without-sensor-picture": "The DNG holds no picture from the sensor.",
    "dng-filters-unusual": "The sensor's colour filters do not lie in the usual squares of four.",
    "dng-picture-unusual": "The DNG holds a developed picture that is too large, or not in three colours.",
    "dng-floating-point": "The DNG is stored in floating-point numbers.",
    "dng-packed-otherwise": "The DNG was compressed with loss, or in a way that can't be read.",
    # Its colours
    "coded-for-hdr": "The photo was saved for HDR screens (PQ or HLG curve), not with a photo's tone curve.",
    "colour-space-not-described": "The photo names a colour space but does not describe it.",
    "profile-damaged": "The photo's colour profile is damaged.",
    "profile-incomplete": "The photo's colour profile is incomplete.",
    "profile-not-rgb": "The photo's colour profile is not one for RGB pictures.",
    "profile-by-tables": "The photo's colour profile works by tables, not by tone curves and primaries.",
    "profile-white-off": "The primaries in the photo's colour profile do not add up to white.",
    "profile-curve-damaged": "A tone curve in the photo's colour profile is damaged.",
    "profile-curve-odd": "A tone curve in the photo's colour profile does not run from black to white.",
}
SEND_THE_PHONES = "Take a photo with the phone's camera, and send that one as it is."
REMEDIES: Catalogue = {
    "check-the-photo": On(
        terminal="Check its name, folder and permissions.", page="See whether it opens on the phone, and send it again."
    ),
    "name-the-photo": On(terminal="Name the photo in it.", page="Choose the photo in it."),
    "export-as-jpeg": "Export the photo as JPEG.",
    "send-photo-again": On(
        terminal="Copy it from the phone again, and check that it opens there.",
        page="See whether it opens on the phone, and send it again.",
    ),
    "take-fewer-pixels": "Take it at 12 to 50 megapixels: that is as sharp as a card needs.",
    "use-full-size": "Use the photo at its full size, as the camera saved it.",
    "use-a-known-format": "Use a photo saved as JPEG, HEIC, DNG, PNG or TIFF.",
    "save-as-jpeg": "Set the phone's camera to save JPEG (often called 'most compatible') and take the photo again, or"
    " export it as JPEG.",
    "use-the-original": "Use the photo as the camera saved it (JPEG, HEIC or DNG), not a copy from a chat or a web"
    " page.",
    "develop-raw": On(
        terminal="Export it from a raw developer as 16-bit TIFF or PNG in sRGB, without a preset look or automatic"
        " corrections.",
        page="Set the camera to save JPEG, and take the photo again.",
    ),
    "save-as-rgb": On(
        terminal="Open it in an image editor and export it as PNG: RGB, 8 or 16 bits per colour, without layers.",
        page=SEND_THE_PHONES,
    ),
    "take-it-in-colour": "Take the photo in colour, without a filter, and use the file as the camera saved it.",
    "switch-off-hdr": On(
        terminal="Switch off HDR in the camera's settings and take the photo again, or export it as a JPEG in sRGB.",
        page="Switch off HDR in the camera's settings, and take the photo again.",
    ),
    "set-camera-to-srgb": On(
        terminal="Set the camera to sRGB and take the photo again, or export it as sRGB with the profile embedded.",
        page="Set the camera to sRGB, and take the photo again.",
    ),
    "save-as-srgb": On(
        terminal="Export the photo from its app or editor as sRGB with the profile embedded, and use that copy.",
        page=SEND_THE_PHONES,
    ),
}
FLAGS: Catalogue = {
    "hdr-gain-map": "the file carries an HDR gain map: only its base picture was measured",
    "srgb-assumed": _srgb_assumed,
    "video-curve-stated": "the file names the tone curve of a video: read with that of sRGB",
    "profile-tables-unused": "the colour profile also holds tables, which were not used",
    "dng-without-matrix": "the DNG has no colour matrix: the primaries of sRGB were used",
    "transparency-ignored": "transparency was ignored",
    "photo-small": "small photo ({width} x {height} pixels): use it at its full size",
    "edge-of-one-colour": "one edge of the picture is a single flat colour: is the file damaged?",
    "screenshot-suspected": "a PNG the size of a screen, without a camera's name: is it a screenshot? Use the photo"
    " itself",
    "border-of-one-colour": "a border of one colour around the photo: is it a screenshot or a collage? Use the photo"
    " itself",
    "edit-suspected": "brightness levels are missing at regular steps: was the photo edited? Use it as the camera saved"
    " it",
}
