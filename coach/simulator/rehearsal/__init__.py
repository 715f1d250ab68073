"""Drills: what is injected into a rehearsal, and the score."""
