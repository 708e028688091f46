"""The practice bench: simulated captures whose fault is hidden until they are marked."""
