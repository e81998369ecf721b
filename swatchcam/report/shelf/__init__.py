"""What the studio has, and what is left on the shelf -> one dict -> text or JSON."""
