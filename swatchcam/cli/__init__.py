"""The command line: `swatchcam card`, `swatchcam measure`, `swatchcam check`."""

import click

from .. import __version__
from .lazy import RefusingGroup

COMMANDS = {
    "card": "swatchcam.cli.card:card",
    "measure": "swatchcam.cli.measure:measure",
    "check": "swatchcam.cli.check:check",
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
