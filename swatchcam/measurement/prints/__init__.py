"""Photos of one printed card -> what its stock is, and whether card, values and phone agree with known greys."""
