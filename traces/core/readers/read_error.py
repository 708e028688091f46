"""What is said where a file cannot be read."""

from shopdiag.people.core.words import Text


class ReadError(Exception):
    """The file cannot be read as a recording; `why` is one sentence with what to do."""

    def __init__(self, why: Text) -> None:
        super().__init__(why)
        self.why = why
