"""Bench tests: what was read, and how a candidate car would answer."""
