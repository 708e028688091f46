"""Everything that changes a visit; each change leaves a line in its timeline."""
