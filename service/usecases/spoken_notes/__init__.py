"""Verbs of spoken notes: keep them, list them, give one out, take one back."""
