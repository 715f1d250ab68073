"""From readings to distributions of first crack and drop."""
