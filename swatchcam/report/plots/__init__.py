"""Colours, differences and curves go in; drawings in SVG come out."""
