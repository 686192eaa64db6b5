"""Settings changed after the visits, and all that follows."""
