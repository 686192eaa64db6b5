"""Passwords, tokens and sessions: pure arithmetic."""
