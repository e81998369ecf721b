"""A chapter's name goes in, its text comes out: the user's book, short chapters that the command and the page show."""
