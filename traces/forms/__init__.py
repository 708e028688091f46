"""Forms of captures: set-up, edits by hand, how a file is read."""
