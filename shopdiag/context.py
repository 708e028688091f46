"""Settings that templates show."""

from django.conf import settings
from django.http import HttpRequest
from django.utils.formats import get_format

from traces.uploads.files import PART_BYTES


def limits(request: HttpRequest) -> dict[str, object]:  # noqa: ARG001 - a context processor's signature
    """Offer the largest upload, so that a browser need not send what would be refused, and more."""
    return {
        "capture_limit_mb": settings.CAPTURE_LIMIT_MB,
        "upload_part_bytes": PART_BYTES,
        "sends_email": settings.EMAIL_IS_SET_UP,
        "decimal_sign": get_format("DECIMAL_SEPARATOR"),
        "texts_digest": settings.LOCALE_PATHS[0].name,
    }
