"""A photo and the values of its card -> those values as a phone sees this print, and how sure that is."""
