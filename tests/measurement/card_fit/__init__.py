"""Tests of `swatchcam/measurement/card_fit`."""
