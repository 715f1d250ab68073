"""The edges: command line, screens, sound, the live roast."""
