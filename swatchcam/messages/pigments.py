"""What is said of pigments: their test series, their lots, and what is known of them."""

from __future__ import annotations

from .surface import Catalogue, On

PROBLEMS: Catalogue = {
    "pigment-spelt-alike": "'{name}' is new: did you mean '{near}'?",
    "pigment-without-series": "No test series for '{pigment}' on this cloth yet.",
    # Test series.
    "load-below-scale": "{load:g} % of {cup:g} g is only {grams:g} g, and a scale with steps of {step:g} g can't weigh"
    " that.",
    "load-of-ready-ink": "{load:g} % is too much for a concentrate (at most {most:g} %).",
    "load-unreadable": "'{typed}' does not give a strip and its load.",
    "no-loads": "You haven't said how much pigment each strip has.",
    "strip-named-twice": "The strip '{strip}' is named twice.",
    # Lots.
    "lot-unlike-its-pots": "Judging from {pots:counted pot} mixed since {since}, {pigment} is {range[0]:.2g} to"
    " {range[1]:.2g} times as strong as in the test series, not {said:g} times.",
    "lot-strength-given-twice": "A test mix and a strength were both given.",
    "pigment-not-in-test-mix": "There is no {pigment} in this test mix.",
    "test-mix-before-lot": "The test mix was made on {mixed}, before the lot was in use ({since}).",
    "test-mix-for-other-light": "This test mix was measured for another light.",
    "test-mix-unlike-pigment": "This test mix does not look like {pigment} at any strength.",
    "test-mix-without-recipe": "The test mix (batch {batch} of '{shade}') has no recipe.",
}
REMEDIES: Catalogue = {
    "correct-it-or-put-it-on-the-shelf": On(
        "Write '{near}'. If '{name}' really is new, put it on the shelf first: swatchcam pigment set \"{name}\"",
        "A new name makes a new pigment.",
    ),
    "give-each-load-once": "Give each load once.",
    "give-loads": On(
        "Say it with --load left=0.4 --load right=1.5", "Say it on the studio's computer, where the series is kept."
    ),
    "give-day-of-use": On(
        "Give the day it came into use: --since {mixed}", "Give the day it came into use on the studio's computer."
    ),
    "load-zero-for-clear-base": "Give the load 0 for a strip of clear base alone.",
    "make-its-series-first": "Make one first; known so far: {known:comma}.",
    "measure-for-d65": "Measure it for D65 and 10 degrees.",
    "check-day-or-name-test-mix": On(
        "Check the day (--since). If those pots were mixed from this lot, have its strength worked out: leave out"
        " --strength and give --test-mix {record}.",
        "Check the day on the studio's computer, or have the strength worked out there from record {record}.",
    ),
    "mix-test-again": "Check its recipe and its strip, or mix it again from clear base and the new lot alone.",
    "name-a-test-mix": "Name the record of a mix with the new lot.",
    "note-lot-when-used": "Note the lot on the day you start using it.",
    "say-what-is-in-test-mix": On(
        'Give it: swatchcam batch "{shade}" "{batch}" --recipe "clear base 100 g, {pigment} 1 g"',
        "Keep a strip of that batch with its recipe.",
    ),
    "say-it-is-ready": On(
        'If {pigment} is ready-mixed, say so first: swatchcam pigment set "{pigment}" --ready',
        "If {pigment} is ready-mixed, say so on the studio's computer first.",
    ),
    "state-cup-and-scale": On(
        "Say with --cup how much you mixed, and with --scale how fine your scale is.",
        "Mix more, or use a finer scale.",
    ),
    "write-load": "Write it as left=0.4 for 0.4 g in 100 g.",
}
