"""Verbs of temperature rasters: bring one, look at it, draw on it, take its figure."""
