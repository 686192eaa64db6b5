"""Assess readings and show how the plant stands."""
