"""Numbers in; XYZ, CIELAB, differences, grades, intervals and spectra out."""
