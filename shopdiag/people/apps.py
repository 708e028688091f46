from django import forms
from django.apps import AppConfig
from rest_framework.fields import Field

MISSING = "Fill this in."
NOT_LISTED = "Choose one of the list; “%(value)s” is not in it."


class PeopleConfig(AppConfig):
    name = "shopdiag.people"
    label = "people"

    def ready(self) -> None:
        """Say in every form what to do, where a field has no words of its own."""
        forms.Field.default_error_messages["required"] = MISSING
        forms.ChoiceField.default_error_messages["invalid_choice"] = NOT_LISTED
        Field.default_error_messages["required"] = MISSING
