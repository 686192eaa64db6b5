"""Bytes to typed rows and problems; no database."""
