"""The card square-on in; the light field, the tone curve and what is wrong with the light out."""
