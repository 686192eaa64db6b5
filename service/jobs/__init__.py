"""Time's door: takes due work from the lease table and calls a use case."""
