"""A translator whose texts are told from those that no translator has seen."""


class Marking:
    """Puts each text between brackets, and each context before its text."""

    def gettext(self, message: str) -> str:
        return f"⟦{message}⟧"

    def ngettext(self, singular: str, plural: str, number: int) -> str:
        return f"⟦{singular if number == 1 else plural}⟧"

    def pgettext(self, context: str, message: str) -> str:
        return f"⟦{context}: {message}⟧"
