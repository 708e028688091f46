"""A page with every component of the look in all its states, on invented sample values."""

import math
from dataclasses import dataclass
from datetime import UTC, datetime

from django import forms
from django.contrib import messages
from django.core.paginator import Paginator
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import render
from django.views.decorators.http import require_safe

_WHEN = datetime(2026, 3, 4, 9, 41, tzinfo=UTC)
_STAGES = (
    ("intake", "Intake"),
    ("triage", "Triage"),
    ("test", "Cranking test"),
    ("decide", "Decide"),
    ("work", "Work order"),
    ("verify", "Repair and verify"),
    ("hand_back", "Delivery"),
    ("closed", "Closed"),
)
_CALLS = (
    (1, 0.57, 0.53, 0.61, "suspect"),
    (3, 1.02, 0.98, 1.06, "sound"),
    (4, 0.85, 0.81, 0.9, "watch"),
    (2, 0.99, 0.95, 1.03, "sound"),
)
_TWELVE = (1, 7, 5, 11, 3, 9, 6, 12, 2, 8, 4, 10)
_LONGEST_S = 4.0


@dataclass(frozen=True, slots=True)
class _Name:
    name: str


@dataclass(frozen=True, slots=True)
class _Difference:
    label: str
    theirs: str
    yours: str


@dataclass(frozen=True, slots=True)
class _Conflict:
    by: _Name
    at: datetime
    differences: tuple[_Difference, ...]
    taken_over: tuple[_Difference, ...]


@dataclass(frozen=True, slots=True)
class _Bank:
    name: str
    label: str
    cylinders: str
    mean: float
    low: float
    high: float
    call: str = ""


@dataclass(frozen=True, slots=True)
class _Banks:
    rows: tuple[_Bank, ...]
    is_uneven: bool
    sentence: str
    advice: str


_BANKS = _Banks(
    (
        _Bank("A", "bank A (bank 1)", "1, 3, 5", 1.0, 0.98, 1.02),
        _Bank("B", "bank B (bank 2)", "2, 4, 6", 0.88, 0.85, 0.91, "weaker"),
    ),
    is_uneven=True,
    sentence="Uneven: bank B (bank 2) is weaker by 12 points.",
    advice="Gauge one cylinder of each bank.",
)


class KitForm(forms.Form):
    """One field of each kind."""

    plate = forms.CharField(label="Plate", help_text="As on the vehicle.", max_length=12)
    odometer = forms.IntegerField(label="Odometer", min_value=0)
    arrived = forms.DateField(
        label="Came in on", required=False, widget=forms.DateInput(attrs={"type": "date"})
    )
    cranks = forms.ChoiceField(
        label="Cranking sound",
        choices=[("even", "Even"), ("uneven", "Uneven"), ("slow", "Slow"), ("none", "No crank")],
        widget=forms.RadioSelect,
    )
    lamps = forms.MultipleChoiceField(
        label="Warning lights",
        required=False,
        choices=[("engine", "Engine"), ("battery", "Battery"), ("oil", "Oil pressure")],
        widget=forms.CheckboxSelectMultiple,
    )
    engine = forms.ChoiceField(
        label="Engine", choices=[("i4", "In-line 4, 1-3-4-2"), ("v6", "V6, 1-2-3-4-5-6")]
    )
    complaint = forms.CharField(label="Complaint", widget=forms.Textarea, required=False)
    inverted = forms.BooleanField(label="The clamp points backwards", required=False)
    photo = forms.FileField(label="Photo", required=False)

    def __init__(self, *args: object, **kwargs: object) -> None:
        super().__init__(*args, **kwargs)  # type: ignore[arg-type]
        self.fields["odometer"].unit = "km"  # type: ignore[attr-defined]


def _estimates() -> list[dict[str, object]]:
    names = ("cylinder", "relative", "low", "high", "call")
    rows = [dict(zip(names, row, strict=True)) for row in _CALLS]
    humps = (0.49, 1.04, 0.79, 0.98)
    return [{**row, "hump_relative": h} for row, h in zip(rows, humps, strict=True)]


def _many() -> list[dict[str, object]]:
    rows: list[dict[str, object]] = []
    for cylinder in _TWELVE:
        relative = 0.74 if cylinder == 9 else 1.0 + 0.02 * math.sin(cylinder)
        call = "suspect" if cylinder == 9 else "sound"
        rows.append(
            {
                "cylinder": cylinder,
                "relative": relative,
                "low": relative - 0.04,
                "high": relative + 0.04,
                "call": call,
                "hump_relative": relative + 0.05 * math.cos(cylinder),
            }
        )
    return rows


@require_safe
def kit(request: HttpRequest) -> HttpResponse:
    """Show all components."""
    for level, sentence in (
        (messages.SUCCESS, "Saved."),
        (messages.INFO, "This capture is already here: the same file came in yesterday."),
        (messages.WARNING, "The check digit of this VIN does not fit; look at it once more."),
        (messages.ERROR, "This work order was withdrawn; ask the diagnostician."),
    ):
        messages.add_message(request, level, sentence)
    context = {
        "stages": _STAGES,
        "banks": _BANKS,
        "estimates": _estimates(),
        "many": _many(),
        "unknown": [
            {**row, "cylinder": None, "position": i} for i, row in enumerate(_estimates(), start=1)
        ],
        "empty_form": KitForm(),
        "wrong_form": KitForm(
            {"odometer": "many", "cranks": "uneven", "lamps": ["oil"]}, auto_id="id_wrong_%s"
        ),
        "conflict": _Conflict(
            _Name("Mika Mech"),
            _WHEN,
            (_Difference("Complaint", "Shakes when cold.", "Shakes when cold, worse in rain."),),
            (_Difference("Odometer", "84,210", "–"),),
        ),
        "when": _WHEN,
        "page": Paginator(range(95), 20).get_page(2),
        "tabs": (
            ("Card", "#tabs", True),
            ("Captures", "#tabs", False),
            ("History", "#tabs", False),
        ),
        "crumbs": (("Board", "#top"), ("AB-123-C", "#top")),
        "findings": (
            {
                "severity": "stop",
                "channel": "clamp",
                "from_s": 0.4,
                "to_s": 0.9,
                "message": "The current is cut off at the top of the screen.",
                "remedy": "Choose the next larger range and capture again.",
            },
            {
                "severity": "warn",
                "channel": "coil",
                "from_s": None,
                "to_s": None,
                "message": "The sync event comes every 360 degrees.",
                "remedy": "Open the plug of one of the two, fuel and ignition both off, and "
                "crank again: its hump drops out.",
            },
            {
                "severity": "note",
                "channel": None,
                "from_s": None,
                "to_s": None,
                "message": "The clamp pointed backwards; the sign was turned.",
                "remedy": "",
            },
        ),
    }
    return render(request, "kit.html", context)


def _between(request: HttpRequest) -> tuple[float, float]:
    try:
        low = max(0.0, float(request.GET.get("from", 0)))
        high = min(_LONGEST_S, float(request.GET.get("to", _LONGEST_S)))
    except ValueError:
        low, high = 0.0, _LONGEST_S
    return (low, high) if low < high else (0.0, _LONGEST_S)


@require_safe
def sample_curve(request: HttpRequest) -> JsonResponse:
    """Give the sample plot its points: always 600 of them, finer the closer one looks."""
    low, high = _between(request)
    times = [low + (high - low) * i / 599 for i in range(600)]
    lobes = (0.6, 1.0, 0.95, 1.0)
    values = [
        round(110 + 60 * lobes[int(t * 8) % 4] * math.sin(math.pi * ((t * 8) % 1)) ** 2, 2)
        for t in times
    ]
    sync = [round(0.0625 + 0.5 * k, 4) for k in range(8)]
    return JsonResponse(
        {
            "data": [
                {
                    "type": "scatter",
                    "mode": "lines",
                    "name": "Current",
                    "x": times,
                    "y": values,
                    "line": {"color": "token:ink", "width": 1.5},
                },
                {
                    "type": "scatter",
                    "mode": "markers",
                    "name": "Sync",
                    "x": sync,
                    "y": [105] * len(sync),
                    "marker": {"symbol": "triangle-up", "size": 11, "color": "token:pen"},
                },
            ],
            "layout": {
                "xaxis": {"title": {"text": "Time, s"}},
                "yaxis": {"title": {"text": "Current, A"}, "fixedrange": True},
            },
        }
    )
