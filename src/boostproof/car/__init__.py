"""What is known of a car, and what that leaves open."""
