"""What is said where a file cannot be read."""


class ReadError(Exception):
    """The file cannot be read as a recording; the text is one sentence with what to do."""
