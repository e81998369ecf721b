"""A file of any kind in; upright coded RGB out, with what is known of it."""
