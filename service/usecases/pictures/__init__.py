"""Verbs of pictures: bring them, place them, look at them, draw on a copy, take one out."""
