"""What is said where results become files: pages, cards for the wall, exports, pictures."""

from __future__ import annotations

from .surface import Catalogue, On

PROBLEMS: Catalogue = {
    "nothing-kept-yet": On("The library {place} holds no record yet.", "The library holds no record yet."),
    "paper-unknown": "There is no paper '{paper}'.",
    "records-of-several-lights": "The records are for different lights, but a CGATS file has only one.",
    "shade-named-twice": "A shade was named twice.",
    "shade-to-print-missing": "There is no shade to print a card for.",
    "target-needs-library": "The library that knows this target was not given.",
    "small-photo-damaged": "The small photo {digest} is not a JPEG.",
}
REMEDIES: Catalogue = {
    "add-a-shade": "Add a shade to the library first.",
    "choose-a-paper": "Choose one of {papers:comma}.",
    "export-each-light": "Export each light separately, or choose CSV or JSON.",
    "keep-a-first-strip": On(
        "Keep a first strip: swatchcam keep PHOTO --shade NAME", "Keep a first strip on the page 'Photo'."
    ),
    "make-small-photos-again": "Let the library make its small photos again.",
    "open-a-library": "Give it with library=swatchcam.open_library().",
    "name-each-shade-once": "Name each shade once.",
}
