"""What the studio has and what is left on the shelf -> dicts, text and sheets."""
