"""Drills: what is injected into a rehearsal, scripted people to try them on, and the score."""
