"""What is said of a command line that asks for something that cannot be done."""

from __future__ import annotations

from difflib import get_close_matches
from typing import Any

from .surface import Catalogue, On


def _choose_a_design(name: str, designs: list[str], **_: Any) -> str:
    return _choose(name, designs)


def _choose_a_chapter(chapter: str, chapters: list[str], **_: Any) -> str:
    return _choose(chapter, chapters)


def _choose(typed: str, names: list[str]) -> str:
    """Those like what was typed, or all."""
    near = get_close_matches(typed, names, n=2, cutoff=0.5)
    return f"Did you mean {' or '.join(near)}?" if near else f"Choose one of {', '.join(names)}."


PROBLEMS: Catalogue = {
    "backup-is-a-number": "There is no backup called '{number}'.",
    "chapter-unknown": "There is no chapter '{chapter}' in the handbook.",
    "merge-with-other-changes": "A shade that is merged into another has no settings of its own any more.",
    "no-lot-named": "It is not clear which lot you mean.",
    "no-photo-and-no-records": "You gave neither a photo nor records.",
    "no-such-design": "There is no card design called '{name}'.",
    "not-one-thing-to-remove": "Say what to remove: one thing at a time.",
    "opencv-cannot-start": "OpenCV can't start on this computer ({cause}).",
    "photo-and-records": "You gave both a photo and records.",
    "picture-over-photo": "{path} is one of your photos; it is never written over.",
    "pot-named-but-not-kept": "You gave the new pot a name, but it isn't going to be kept.",
    "profile-needs-no": "{options:listed} can't be used with a printer's profile.",
    "only-for-profiles": "{options:listed} can only be used with a printer's profile.",
    "sister-without-number": "The number of the sister print is missing.",
    "staining-with-corrections": "A stained cloth can't be kept and a record corrected in one go.",
    "strips-without-a-photo": "You named strips of a photo, but gave records instead of a photo.",
    "tag-on-and-off": "The tag '{tag}' can't be added and removed at once.",
    "two-references": On(
        "You named two things to compare with: one in the library, and a --target or --against.",
        "You named two things to compare with.",
    ),
}
REMEDIES: Catalogue = {
    "choose-a-chapter": _choose_a_chapter,
    "choose-a-design": _choose_a_design,
    "give-a-photo-or-records": On("Give one of them: a PHOTO, or --records LIGHT DARK.", "Choose one of them."),
    "give-the-sisters-number": On("Add its 8 digits, for example --print 04821094.", "Type its 8 digits."),
    "install-opencv-libraries": "Install the system packages libgl1 and libglib2.0-0 (or whatever your system"
    " calls them), and try again.",
    "leave-these-out": On("Leave out {options:listed}.", "Leave them empty."),
    "keep-or-leave-out-the-name": On("Add --keep, or leave out --as.", "Keep it, or leave out the name."),
    "merge-alone": On("Use --merge-into on its own.", "Merge the shade first, then change the other one."),
    "name-a-change": On("Give an option such as --target or --tag; --help lists them.", "Fill in what to change."),
    "name-bare-records": On(
        "Name the bare cloths with --bare-records LIGHT DARK.", "Name the records of the bare cloths."
    ),
    "name-one-thing-to-remove": On(
        "Give one of --record NUMBER, --shade NAME, --proposal NUMBER or --pigment NAME.", "Remove it on its own page."
    ),
    "name-tag-once": "Name the tag once.",
    "name-the-lot": On("Give its name with --lot.", "Give its name."),
    "name-photo-and-card": On(
        "Give only --stained PHOTO, with --card if it is needed.", "Correct the record afterwards."
    ),
    "undo-or-name-a-backup": On(
        "To undo change {number}: swatchcam undo {number}. To bring back a backup, give its file, such as"
        " 2026-01-31.zip.",
        "Undo a change on the page 'Changes'; bring back a backup on the studio's computer.",
    ),
}
