"""Pure rules of practice: levels, marking, scoring, progress, and the drawing of a capture."""
