"""Versions of a profile, and the proposal for the next one."""
