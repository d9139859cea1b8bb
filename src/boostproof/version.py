"""The version of boostproof: said by the command line and kept in every answer."""

__version__ = "0.1.0"
