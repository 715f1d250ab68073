"""The table of cues, when each is true, and what may sound."""
