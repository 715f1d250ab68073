"""One move of the gas and what it would do."""
