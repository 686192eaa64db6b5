"""The batch trend engine; NumPy and SciPy only."""
