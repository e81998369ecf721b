"""The page for the phone: `swatchcam serve` puts the same answers as the command line on the studio's network."""
