"""What mends a car, and what it will then do: repairs as changes of candidates, and their forecast."""
