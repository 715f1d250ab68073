"""Evidence and hindcasts of earlier roasts, cached."""
