"""Frozen records, enums and rules of the trade."""
