"""Gather what a report says."""
