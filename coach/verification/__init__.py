"""Verification of forecasts, cues and advice against what then happened."""
