"""What is said of the light on the card."""

from __future__ import annotations

from .surface import Catalogue

PROBLEMS: Catalogue = {
    "too-few-greys": "Only {usable} of the card's grey steps can be used; at least {needed} are needed.",
    "light-not-smooth": "There is a shadow edge, glare or dirt across the card (its white varies by {varies:.1%} where"
    " the light should change smoothly, and {lost:.0%} of it can't be used).",
    "window-in-glare": "Glare, a shadow or dirt lies beside the {window} window ({spoilt:.0%} of the white around it).",
    "light-too-steep": "The light on the card is too uneven (one side is {fall:.1f} times as bright as the other).",
    "greys-disagree": "The same grey differs by {spread:.1f} L* across the card: a lamp is mirrored in it,"
    " or the phone has brightened parts of the picture separately.",
}
REMEDIES: Catalogue = {
    "uncover-the-greys": "Uncover the card, keep glare off its greys, and take the photo again.",
    "even-the-light": "Move yourself, the phone and the lamp so that the light falls evenly, and take the photo again.",
    "clear-the-window": "Turn the card or move the lamp until no reflection or shadow is near the window, and take the"
    " photo again.",
    "move-the-lamp-away": "Move the lamp further away or use window light, and take the photo again.",
    "turn-off-brightening": "Move the lamp or turn the card, turn off HDR, night mode and scene optimising, and take"
    " the photo again.",
}
