"""A design in, a printable sheet out; readings in, the values of one print out."""
