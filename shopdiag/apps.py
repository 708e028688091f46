from django.apps import AppConfig
from django.core.validators import MaxValueValidator, MinValueValidator
from django.utils import translation
from django.utils.formats import get_format
from django.utils.translation import gettext_lazy as _

from shopdiag.people.core.numerals import write_numbers_by
from shopdiag.people.core.words import translate_by


class ShopdiagConfig(AppConfig):
    name = "shopdiag"
    label = "wiring"

    def ready(self) -> None:
        translate_by(translation)
        MinValueValidator.message = _("It must be at least %(limit_value)s.")
        MaxValueValidator.message = _("It may be at most %(limit_value)s.")
        write_numbers_by(
            lambda: (get_format("DECIMAL_SEPARATOR"), get_format("THOUSAND_SEPARATOR"))
        )
        # The queue must be set up before any task is sent from a web process.
        from shopdiag import celery  # noqa: F401, PLC0415
