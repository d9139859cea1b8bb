"""Which test next, and what its answers would change."""
