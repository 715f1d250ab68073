"""The simulated roaster, its operator, drills and the score of a rehearsal."""
