"""Colours in, to be kept; found again, compared, backed up and undone out."""
