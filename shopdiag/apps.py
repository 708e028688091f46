from django.apps import AppConfig


class ShopdiagConfig(AppConfig):
    name = "shopdiag"
    label = "wiring"

    def ready(self) -> None:
        # The queue must be set up before any task is sent from a web process.
        from shopdiag import celery  # noqa: F401, PLC0415
