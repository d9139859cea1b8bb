"""Pulls of a recording: found, measured, compared, brought to a standard atmosphere."""
