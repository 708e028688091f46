"""What is said where a set-up cannot stand."""


class SetupError(ValueError):
    """The set-up contradicts itself; the text is one sentence with what to do."""
