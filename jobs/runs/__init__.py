"""What the worker does for rows of jobs."""
