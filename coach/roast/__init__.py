"""Typed lines, the profile that is followed, and the fold of one roast."""
