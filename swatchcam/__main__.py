"""`python -m swatchcam` is the command `swatchcam`."""

from .cli import main

main(prog_name="swatchcam")
