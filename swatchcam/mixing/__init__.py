"""Strips of known recipe in; what pigments and films do, recipes and corrections out."""
