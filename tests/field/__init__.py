"""What devices send from the walk."""
