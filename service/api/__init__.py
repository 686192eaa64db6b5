"""The JSON door: one router and its schemas per noun, under /api/v1."""
