"""The HTML door: one router per noun, words and units for people."""
