from django.apps import AppConfig


class TracesConfig(AppConfig):
    name = "traces"
