"""Pages of the visit: validate, call one service or selector, render."""
