"""Looking after what the service itself keeps: expired things, copies, checks."""
