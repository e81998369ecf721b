"""`swatchcam serve`: the page for the phone."""

from __future__ import annotations

import sys

import click

from .options import library_option


@click.command(
    epilog="\b\nExamples:\n"
    "  swatchcam serve --lan\n"
    "  swatchcam serve --lan --card studio-7\n"
    "  swatchcam serve --open\n"
    "  swatchcam serve --lan --address 192.168.1.20 --port 8138",
)
@click.option(
    "--lan",
    is_flag=True,
    help="Let phones in the studio's own network use the page; without it only this computer can.",
)
@click.option(
    "--port", type=click.IntRange(0, 65535), default=8137, show_default=True, help="Its port; 0 for a free one."
)
@click.option(
    "--address",
    metavar="HOST",
    help="With --lan: this computer's name or number in the network. [default: it is found out]",
)
@click.option("--card", metavar="NAME", help="The usual card's values: a name or a file.")
@click.option("--row", metavar="NAME", help="The usual row of your own pigments.")
@click.option("--open", "browser", is_flag=True, help="Open the page in this computer's browser.")
@library_option
def serve(
    lan: bool, port: int, address: str | None, card: str | None, row: str | None, browser: bool, library: str | None
) -> None:
    """Open a page on which a phone takes photos, is told the verdict, and keeps the strip in the library.

    For phones add --lan: the address to type on the phone, and a code that lets it in once, are shown here. The page
    runs on this computer until you press Ctrl-C; nothing leaves the studio's network.
    """
    from ..web.server import Wishes, serve

    wishes = Wishes(library, card, row, lan, port, address, browser)
    serve(wishes, click.echo, getattr(sys.stdout, "encoding", None))
