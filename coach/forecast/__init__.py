"""Forecast of first crack and drop: from readings to distributions."""
