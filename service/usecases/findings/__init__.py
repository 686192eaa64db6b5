"""Open, plan, repair and prove findings."""
