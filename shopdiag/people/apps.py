from django.apps import AppConfig


class PeopleConfig(AppConfig):
    name = "shopdiag.people"
    label = "people"
