"""What a case gives: pulls, readings and facts as evidence, and candidate cars driven through it."""
