"""What the user types goes in; the other packages' answers come out on the terminal: `swatchcam check` and so on."""

import os

import click

from .. import __version__
from .groups import RefusingGroup

# The matrices here are tiny: threads cost more than they save. Read when numpy is first imported, so set before.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

COMMANDS = {
    "card": "swatchcam.cli.card:card",
    "measure": "swatchcam.cli.measure:measure",
    "check": "swatchcam.cli.check:check",
    "row": "swatchcam.cli.row:row",
    "keep": "swatchcam.cli.keep:keep",
    "near": "swatchcam.cli.near:near",
    "shade": "swatchcam.cli.shade:shade",
    "pigment": "swatchcam.cli.pigment:pigment",
    "mix": "swatchcam.cli.mix:mix",
    "amount": "swatchcam.cli.amount:amount",
    "opacity": "swatchcam.cli.opacity:opacity",
    "library": "swatchcam.cli.library:library",
    "serve": "swatchcam.cli.serve:serve",
}


@click.group(cls=RefusingGroup, lazy=COMMANDS, context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(__version__, "-V", "--version", prog_name="swatchcam")
def main() -> None:
    """Measure printing ink on cloth from a phone photo of a printed card.

    Every command explains itself: put --help behind it.

    \b
    Example:
      swatchcam card print --help
    """
