"""A phone's request in; a page out, with the same answers as the command line's: `swatchcam serve`."""
