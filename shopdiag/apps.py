from django.apps import AppConfig
from django.utils import translation

from shopdiag.people.core.words import translate_by


class ShopdiagConfig(AppConfig):
    name = "shopdiag"
    label = "wiring"

    def ready(self) -> None:
        translate_by(translation)
        # The queue must be set up before any task is sent from a web process.
        from shopdiag import celery  # noqa: F401, PLC0415
