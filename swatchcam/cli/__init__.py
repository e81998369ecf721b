"""What the user types goes in; the other packages' answers come out on the terminal: `swatchcam check` and so on."""

import os

import click

from .. import __version__
from .groups import HELP, Outermost

# The matrices here are tiny: threads cost more than they save. Read when numpy is first imported, so set before.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

COMMANDS = {
    "check": "swatchcam.cli.check:check",
    "measure": "swatchcam.cli.measure:measure",
    "opacity": "swatchcam.cli.opacity:opacity",
    "near": "swatchcam.cli.near:near",
    "card": "swatchcam.cli.card:card",
    "keep": "swatchcam.cli.keep:keep",
    "shade": "swatchcam.cli.shade:shade",
    "batch": "swatchcam.cli.corrections:batch",
    "record": "swatchcam.cli.corrections:record",
    "remove": "swatchcam.cli.corrections:remove",
    "undo": "swatchcam.cli.corrections:undo",
    "mix": "swatchcam.cli.mix:mix",
    "amount": "swatchcam.cli.amount:amount",
    "pigment": "swatchcam.cli.pigment:pigment",
    "shelf": "swatchcam.cli.shelf:shelf",
    "studio": "swatchcam.cli.studio:studio",
    "handbook": "swatchcam.cli.handbook:handbook",
    "serve": "swatchcam.cli.serve:serve",
    "library": "swatchcam.cli.library:library",
}


@click.group(
    cls=Outermost,
    lazy=COMMANDS,
    invoke_without_command=True,
    context_settings={"help_option_names": list(HELP)},
)
@click.version_option(__version__, "-V", "--version", prog_name="swatchcam")
@click.pass_context
def main(context: click.Context) -> None:
    """Measure printing ink on cloth from a phone photo of a printed card, and find out what to mix.

    Type swatchcam alone to see what to do next. Put --help after a command to see its options and examples.

    \b
    Example:
      swatchcam card print --help
    """
    if context.invoked_subcommand is None:
        from ..report.first_steps import first_steps_dict, first_steps_text

        click.echo(first_steps_text(first_steps_dict()))
