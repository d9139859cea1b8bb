"""One module for each page: its typed page, the function that fills it, and a ``router``."""
