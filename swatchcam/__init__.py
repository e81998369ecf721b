"""Measure fabric screen-printing ink on cloth from a phone photo of a printed reference card."""

__version__ = "0.1.0"
