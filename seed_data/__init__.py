"""Merrowdale Water: an invented regional drinking-water utility, for demonstration and tests only."""
