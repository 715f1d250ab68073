"""Versions of a profile, and what makes the next one."""
