"""A photo in; its tags, the pose of the card and the card square-on out."""
