"""One plain function for each task of a user: the face of the library."""
