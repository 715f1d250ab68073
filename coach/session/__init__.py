"""One roast as it runs, and its journal on disk."""
