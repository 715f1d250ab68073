"""Roasts from and to sheets (CSV)."""
