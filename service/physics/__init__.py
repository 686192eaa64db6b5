"""Radiance, rise, load and uncertainty; NumPy and SciPy only."""
