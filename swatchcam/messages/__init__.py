"""A code with its facts goes in; the sentence that the terminal or the page says of it comes out."""
