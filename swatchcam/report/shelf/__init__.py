"""What the studio has, what is on its shelf, and what to weigh -> dicts and words."""
