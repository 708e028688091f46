"""Text that a person typed: told when it is too long, never cut in silence."""

from django.core.exceptions import ValidationError
from django.utils.translation import gettext as _


def check_length(field: str, text: str, most: int) -> None:
    """Refuse a text that is longer than its place.

    Raises
    ------
    ValidationError
        For `field`, with how long it may be and how long it is.
    """
    if len(text) > most:
        raise ValidationError(
            {
                field: _("Keep it to %(most)s characters; these are %(count)s. Nothing was saved.")
                % {"most": most, "count": len(text)}
            }
        )
