"""Words and weighings in; parts with grams, amounts and weighing lists out. No colour."""
