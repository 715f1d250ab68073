"""Sound: synthesis as arrays, and the one thin edge that plays them."""
