"""Sign people in and say who may do what."""
