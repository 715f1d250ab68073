"""How alike the roasts of a profile are."""
