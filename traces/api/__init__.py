"""Captures and runs for programs."""
