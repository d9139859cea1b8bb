"""Text and figures from finished results; no arithmetic beyond rounding and adding up."""
