"""An invented fleet of any size, written straight into the tables: ground for benchmarks of pages."""
