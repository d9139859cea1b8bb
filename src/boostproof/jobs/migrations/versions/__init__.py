"""One file for each form of the database."""
