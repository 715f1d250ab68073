"""What is typed, what is followed, and the fold of one roast."""
