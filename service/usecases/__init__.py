"""Verbs: what a person or a clock asks the service to do."""
