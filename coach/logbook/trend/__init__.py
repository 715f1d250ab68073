"""Consistency of the roasts of a profile: control charts."""
