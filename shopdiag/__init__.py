"""Wiring: settings, addresses, queue. Holds no rules of the trade."""
