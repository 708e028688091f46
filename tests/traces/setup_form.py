"""The set-up form as somebody fills it in."""

from typing import Any

from engines.models import Engine
from shopdiag.people.models import Member
from traces.forms.setup import SetupForm
from traces.models import Reading

TOKEN = "0d0c2b1e-6a0b-4a53-9a0e-6f5a3c1d2e4f"


def filled_in(reading: Reading, member: Member, engine: Engine, /, **given: Any) -> SetupForm:
    """Fill the form in as it should be, but for what the test gives."""
    clamp, sync = (str(channel["name"]) for channel in reading.channels[:2])
    data = {
        "engine": engine.pk,
        "scale": "10",
        "current_channel": clamp,
        "invert": "auto",
        "sync_channel": sync,
        "sync_event": "ignition",
        "sync_cylinder": "1",
        "sync_every": "720",
        "form_token": TOKEN,
        **given,
    }
    return SetupForm(data, member=member, reading=reading)
