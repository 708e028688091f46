"""Pages of a capture."""
