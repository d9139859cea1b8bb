"""Tables of numbers, each row with where it comes from."""
