"""Verbs of the field: what a technician takes along and what the device sends back."""
