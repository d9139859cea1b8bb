"""The causes as a whole: their signatures, their text, and which can be told apart on a car."""
