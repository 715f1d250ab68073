"""Which roasts there are, and their results."""
