"""Benchmarks: each module measures one thing, prints a table and writes var/bench/<name>.json."""
