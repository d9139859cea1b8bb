"""The team's mirror: every practice case diagnosed, and the answers held against the truth."""
