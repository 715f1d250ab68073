"""How forecasts, cues and advice turned out."""
