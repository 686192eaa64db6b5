"""A plant of invented equipment whose faults are known, walked by several ways of planning."""
