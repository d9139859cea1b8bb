"""What was said of the car, as evidence."""
