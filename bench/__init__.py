"""Measurements of the analysis: accuracy on simulated captures, time and memory."""
