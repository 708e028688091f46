"""Work of the background worker: who owns a row, what is done for it, what was lost."""
