"""What earlier roasts taught, kept in the cache."""
