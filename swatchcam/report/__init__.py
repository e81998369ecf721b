"""Results in; one dict each, and from it text, drawings, pages and files out."""
