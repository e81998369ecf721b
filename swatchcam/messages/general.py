"""What any part of the tool may say."""

from __future__ import annotations

from .surface import Catalogue

PROBLEMS: Catalogue = {
    "said-before": "{sentence}",
}
REMEDIES: Catalogue = {
    "said-before": "{advice}",
}
FLAGS: Catalogue = {"said-before": "{sentence}"}
CHANGES: Catalogue = {"said-before": "{sentence}"}
PLACES: Catalogue = {
    "in-photo": "{photo}",
    "in-option": "{option}",
    "in-field": "In {field}",
}
