"""Exact quantities with dimensions, the one reader of numbers with units, how they are shown, and simple verdicts."""
