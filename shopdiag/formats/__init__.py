"""How numbers are written, by language and region; Django reads it."""
