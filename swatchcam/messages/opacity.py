"""What is said of two strips that are to show how opaque an ink is."""

from __future__ import annotations

from .surface import Catalogue

PROBLEMS: Catalogue = {
    "bare-cloths-alike": "The bare cloths are too alike: L* {dark:.1f} and {light:.1f}.",
    "bare-cloth-of-other-strip": "The bare cloth is noted as '{bare}', but the cloth under the strip as '{cloth}'.",
    "criterion-not-a-ratio": "A contrast ratio of {criterion:g} is not possible.",
    "inked-differ-more-than-bare": "The inked cloths differ more than the bare ones.",
    "ink-lighter-over-dark": "The ink is lighter over dark cloth (L* {dark:.1f}) than over light cloth"
    " (L* {light:.1f}).",
    "one-cloth-bare": "Only one of the two cloths was measured bare.",
    "strips-for-two-lights": "The strips are for different illuminants or observers.",
    "strips-in-two-states": "One strip is {dark}, the other {light}.",
    "strips-of-two-batches": "The two strips are not from one batch.",
    "strips-on-one-cloth": "Both strips are noted on the same cloth, '{cloth}'.",
    "wet-strip-hides-opacity": "A wet strip does not show how opaque the ink is.",
}
REMEDIES: Catalogue = {
    "check-each-cloth": "Check that each strip lies on the cloth that was measured bare.",
    "check-which-is-which": "Check which strip is which, and that both were printed with the same ink, equally thick.",
    "choose-other-strip-for-each": "Choose a different strip for each; these were named: {names:comma}.",
    "give-ratio-below-one": "Give one between 0 and 1, such as 0.98.",
    "let-both-dry": "Let both dry, and measure them again.",
    "measure-both-bare": "Measure both bare, or leave both out.",
    "measure-that-very-cloth": "Measure the very cloth that the strip lies on.",
    "note-each-cloth": "Correct the cloth of each, or pull one strip over dark and one over light cloth.",
    "pull-same-ink": "Pull the same ink over dark and over light cloth.",
    "use-darker-cloth": "Give the dark one first, and use one that is clearly darker, such as black.",
    "use-one-light": "Use strips that were measured for the same illuminant and observer.",
    "use-one-state": "Use two strips in the same state.",
}
