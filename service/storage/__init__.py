"""Queries and writes; the only room that knows the database."""
