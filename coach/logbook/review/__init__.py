"""One roast against its reference."""
