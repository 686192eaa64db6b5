"""One reading: how its figure comes about."""
