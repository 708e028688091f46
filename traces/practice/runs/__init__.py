"""What the worker does for an exercise."""
