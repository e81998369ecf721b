"""What is said of states: what was done to a strip, what a target is for, and going from one to the other."""

from __future__ import annotations

from .surface import Catalogue, On

PROBLEMS: Catalogue = {
    "state-unknown": "There is no state '{typed}'.",
    "treatment-unreadable": "I can't read '{left}' in '{typed}'.",
    "temperature-impossible": "'{typed}' can't be right: between {low:g} and {high:g} °C is possible.",
    "time-impossible": "'{typed}' can't be right: the time must be above zero and at most a day.",
    "treatment-before": On(
        "Record {last} was treated like this: {how}. If this one was too, say so:"
        " swatchcam record {record} --state '{state}'",
        "Record {last} was treated like this: {how}. If this one was too, say so under Correct details.",
    ),
    "state-without-target": "Shade '{shade}' has no target.",
}

REMEDIES: Catalogue = {
    "choose-a-state": "Choose {states:comma} or 'washed 3'.",
    "write-the-treatment": On(
        "Write it like this: 'heat-set 150 C 4 min press', 'washed 3 times 40 C' or 'rubbed wet'.",
        "Write it like this: '150 C 4 min press' for heat setting, '40 C' for washing, 'wet' for rubbing.",
    ),
}
