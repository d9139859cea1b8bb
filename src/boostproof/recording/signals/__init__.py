"""Tools for sampled signals: smoothing, noise, glitches, limits, lines, straight pieces."""
