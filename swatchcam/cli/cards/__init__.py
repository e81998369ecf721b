"""What the commands of `swatchcam card` do with the cards and pigment rows that are there."""
