"""Reads about captures and runs."""
