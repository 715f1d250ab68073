"""A terminal coach for people who roast coffee by hand on a small drum roaster."""

__version__ = "0.1.0"
