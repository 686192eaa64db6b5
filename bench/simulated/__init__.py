"""Simulated points whose truth is known: how early and how rightly detectors speak of them."""
