"""The finished roasts: lists, results, reviews, trends, plans."""
