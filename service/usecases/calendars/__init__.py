"""Rounds as entries of a calendar, and the secret address under which somebody reads theirs."""
