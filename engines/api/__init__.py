"""Engines for programs."""
