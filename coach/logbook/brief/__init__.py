"""Pages that a person reads before a roast, or when taking one over."""
