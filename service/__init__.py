"""Riseline: a route-based infrared survey planner and historical trending service."""

import gc

# What is loaded here stays for good, a hundred thousand objects and more: going through them at
# every seven hundredth new one costs a quarter of a start and a tenth of all work after it.
gc.set_threshold(50_000, 20, 20)
