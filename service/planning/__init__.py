"""Intervals, priorities, month and day; NumPy and SciPy only."""
