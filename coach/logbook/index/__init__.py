"""The list of roasts, and their results."""
