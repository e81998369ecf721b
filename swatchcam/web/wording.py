"""What the program says of its commands -> what a person sees on the page.

The refusals of the library and the mixing table name options and commands, for they were written for a terminal. On a
phone these become the fields and pages of the same use; what only the studio's computer can do is said to be its work.
"""

from __future__ import annotations

import re

# Whole phrases first: their command is not what the page would have one do.
PHRASES = (
    (
        r"Say with --state in which state the strip is",
        "Say in which state the strip is; or keep it, and it is the first of its state",
    ),
    (r"Put --help behind the command to see what can be\.", "Look at the fields of the form."),
    (
        r"Measure with --illuminant (\S+) --observer (\d+)\.",
        r"It can be judged on the studio's computer, for \1 and \2°.",
    ),
    (
        r"Keep a strip without --illuminant and --observer, and name its record\.",
        "Keep a strip from the page 'Photo', and name its record.",
    ),
    (r"[^.;:]*--(?:replace|output)[^.;]*", "That is done on the studio's computer"),
    (r"Name another file with --library, or move this one away", "Start the page with another library"),
    (r"Name another file with --library", "Start the page with another library"),
    (r", or name another with --library", ""),
    (r", or judge it with --against-target", ", or judge it against the target"),
    (r"Leave out --(?:batch|after-heat) or --(?:against-target|state)\.", "Choose one of the two."),
    (r"Without --batch", "Without one"),
    (r"Give L,a,b or --from-record, or a --tolerance", "Type L*, a*, b*, or a tolerance"),
    (r"Name another with --strip,", "Choose another strip,"),
    (r"Name a --shade or a --record\.", "Choose a shade or a record."),
    # Photos and texts: a phone names no file, and lies in no folder.
    (r"in the log\.", "on the page 'Changes'."),
    (r"There is no recipe in a file called '([^']*)'\.", r"'\1' is no recipe."),
    (r"Check its name(?:, folder and permissions| and folder)\.", "Look at it, and send it once more."),
    (r"Rename that one, or take it out, and try again\.", "Give that one another name, or take it out, and try again."),
)
OPTIONS = {
    "shade": "shade",
    "batch": "batch",
    "record": "record",
    "against-target": "target",
    "target": "numbers",
    "state": "what was done to the strip",
    "after-heat": "as it is going to be once heat-set",
    "card": "card in the photo",
    "cloth": "cloth",
    "scale": "scale",
    "choice": "choice",
    "strip": "strip",
    "library": "library",
}
# What a command is for -> the page of that use.
PAGES = {
    "keep": "the page 'Photo'",
    "shade list": "the page 'Shades'",
    "shade show": "the shade's page",
    "shade target": "the shade's page",
    "library log": "the page 'Changes'",
    "library remove": "the record's page",
    "library amend": "the record's page",
    "check": "the page 'Photo'",
    "mix predictions": "the page 'Pot'",
    "pigment list": "the page 'Pot'",
}
GROUPS = "amount|card|check|keep|library|measure|mix|near|opacity|pigment|row|serve|shade"
NAMED = rf"swatchcam ((?:{GROUPS})\b(?: [a-z]+)?)"
COMMAND = re.compile(rf"""(with )?'{NAMED}[^']*'|: {NAMED}(?: (?:"[^"]*"|[^\s;]+))*""")
PLAIN_WORD = re.compile(r"[a-z][a-z'-]*(?=[ ,:;?!]|\.?$|\. )")
OPTION = re.compile(r"--([a-z][a-z-]*)")


def on_page(sentence: str) -> str:
    """The sentence as it is right on a page."""
    for pattern, words in PHRASES:
        sentence = re.sub(pattern, words, sentence)
    parts, end = [], 0
    for command in COMMAND.finditer(sentence):
        parts += [OPTION.sub(_field, sentence[end : command.start()]), _page(command)]
        end = command.end()
    found = "".join([*parts, OPTION.sub(_field, sentence[end:])])
    # The name of a file keeps its first letter, and so does what is quoted.
    return found[:1].upper() + found[1:] if PLAIN_WORD.match(found) else found


def _page(found: re.Match[str]) -> str:
    """The page of a command's use; what has none is still done on the studio's computer."""
    command = found[2] or found[3]
    page = PAGES.get(command) or PAGES.get(command.partition(" ")[0])
    if page is None:
        said = found[0].removeprefix("with ").removeprefix(": ").strip("'.")
        lead = "with " if found[1] else ": " if found[3] else ""
        return f"{lead}'{said}' on the studio's computer"
    if found[3]:
        return f" on {page}."
    return f"on {page}" if found[1] else page


def _field(found: re.Match[str]) -> str:
    name = found[1]
    return f"the field '{OPTIONS[name]}'" if name in OPTIONS else found[0]
