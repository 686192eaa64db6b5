"""Riseline: a route-based infrared survey planner and historical trending service."""
