"""A request in; a page out, made of what the other packages answer."""
