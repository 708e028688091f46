"""The set-up page: each channel with the parts it may play, and what is proposed and why."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from django.forms import BoundField
from django.utils.translation import gettext as _

from engines.core.firing import FiringOrder
from engines.models import Engine
from traces.core.proposal import (
    ChannelRoles,
    Proposal,
    ScaleChoice,
    channel_words,
    pressure_scales,
    propose,
)
from traces.core.setup import Fuel
from traces.core.signal_kinds import DEFAULT_SIGNAL, SIGNAL_KINDS, SignalKind, kind_of
from traces.forms.pressure_fields import MORE_FIELDS, peak_words
from traces.forms.setup import SetupForm
from traces.models import Reading
from traces.selectors.sparklines import Sparkline

_PARTS = ("current_channel", "sync_channel", "voltage_channel")


@dataclass(frozen=True, slots=True)
class PartChoice:
    """One tap that gives a channel a part: clamp, sync or battery."""

    part: str
    option: Any
    is_proposed: bool


@dataclass(frozen=True, slots=True)
class ChannelRow:
    """One channel of the file with its curve and the parts it may play.

    Parameters
    ----------
    spark
        Its curve; None where the samples are gone.
    why
        What its proposed part rests on; "" where none is proposed.
    """

    name: str
    spark: Sparkline | None
    choices: tuple[PartChoice, ...]
    why: str


@dataclass(frozen=True, slots=True)
class ScaleTap:
    """One scale to tap, with the current it makes of this recording."""

    option: Any
    choice: ScaleChoice | None
    is_proposed: bool

    @property
    def words(self) -> str:
        """The current, and whether such an engine draws it."""
        if self.choice is None or self.choice.amps is None:
            return ""
        amps = f"{self.choice.amps:.3g}" if self.choice.amps < 1000 else f"{self.choice.amps:.0f}"
        if self.choice.is_usual:
            return _("%(amps)s A, usual") % {"amps": amps}
        if self.choice.is_possible is False:
            return _("%(amps)s A, unlikely") % {"amps": amps}
        return _("%(amps)s A") % {"amps": amps}


@dataclass(frozen=True, slots=True)
class TransducerTap:
    """One scale of a transducer to tap, with the peak it makes of this recording."""

    option: Any
    words: str


@dataclass(frozen=True, slots=True)
class SetupPage:
    """What the set-up page shows beside the plain questions.

    Parameters
    ----------
    channels
        In the file's order.
    absent
        The taps for "not recorded", by part.
    scales
        The likeliest first.
    proposal
        None where the file was not looked at, or its set-up was made before.
    engine
        The engine that is chosen; None where none is.
    transducers
        Scales of a pressure transducer.
    angle_open, engine_open, signal_open, more_open, conditions_open, transducer_open
        Which folds stand open: those with an error or an answer that must be seen.
    """

    channels: tuple[ChannelRow, ...]
    absent: Mapping[str, Any]
    scales: tuple[ScaleTap, ...]
    proposal: Proposal | None
    engine: Engine | None
    angle_open: bool
    engine_open: bool
    signal_open: bool
    more_open: bool
    conditions_open: bool
    transducer_open: bool
    transducers: tuple[TransducerTap, ...]

    @property
    def shows_crank(self) -> bool:
        """Whether a clamp, a battery, teeth of an idling crank or a cylinder were found."""
        found = self.proposal
        return found is not None and any(
            part is not None for part in (found.clamp, found.battery, found.running, found.pressure)
        )

    @property
    def every_words(self) -> str:
        """What the proposed distance of events rests on."""
        if self.proposal is None or self.proposal.every_deg is None:
            return ""
        if self.proposal.running is not None:
            return _("Proposed by the teeth between two pulses.")
        if self.proposal.every_sure:
            return _("Proposed by the compressions between two pulses.")
        return _("Proposed, but the curve hardly tells one from the other: check it.")

    @property
    def event_words(self) -> str:
        """What the proposed event rests on."""
        if self.proposal is None or self.proposal.event is None:
            return ""
        if self.proposal.event == "cam":
            return _("Proposed by the length of its pulses.")
        return _("Proposed by its short pulses; ignition and injectors look alike, so check it.")


def setup_proposal(
    reading: Reading, engine: Engine | None, fuel: str, initial: Mapping[str, Any]
) -> Proposal | None:
    """Return what a file suggests for an engine; None where it was not looked at."""
    roles = _roles_of(reading)
    if roles is None:
        return None
    scale = initial.get("scale_typed") or initial.get("scale")
    return propose(
        roles,
        units=tuple(c["unit"] for c in reading.channels),
        order=_order_of(engine),
        fuel=_fuel(fuel, engine),
        full_scale_v=_number(initial.get("full_scale_v")),
        is_full_scale=bool(reading.understood.get("full_scale")),
        last_mv_per_a=_number(scale),
    )


def with_proposal(
    initial: dict[str, Any], proposal: Proposal, reading: Reading
) -> tuple[dict[str, Any], bool]:
    """Return what to offer with what the file suggests, and whether something of before is in it.

    A channel of the set-up before stays where the file shows the same kind of thing there.
    """
    roles = _roles_of(reading)
    names = [str(c["name"]) for c in reading.channels]
    if roles is None:
        return initial, True
    found = dict(initial)
    kind, judged = _judged(proposal)
    carries = {
        "current_channel": kind.carries,
        "sync_channel": "pulses",
        "voltage_channel": "voltage",
    }
    proposed: dict[str, int | None] = {
        "current_channel": judged,
        "sync_channel": proposal.sync.channel
        if proposal.sync and not kind.shows_one_cylinder
        else None,
        "voltage_channel": proposal.battery.channel
        if proposal.battery and kind.is_current
        else None,
    }
    kept_some = False
    for part, at in proposed.items():
        before = found.get(part)
        kept = before in names and roles.shows[names.index(str(before))] == carries[part]
        if at is not None and not kept:
            found[part] = names[at]
        kept_some = kept_some or (bool(before) and found.get(part) == before)
    if judged is not None:
        found["signal"] = kind.code
    if proposal.mv_per_a is not None:
        found["scale"] = f"{proposal.mv_per_a:g}"
        found.pop("scale_typed", None)
    elif proposal.scales and any(c.is_usual is not None for c in proposal.scales):
        # a scale of before that fits this engine badly is asked anew
        found.pop("scale", None)
        found.pop("scale_typed", None)
    if proposal.every_deg is not None:
        found["sync_every"] = str(proposal.every_deg)
    if proposal.event is not None:
        found["sync_event"] = proposal.event
    return found, kept_some or (found.get("scale") is not None and proposal.mv_per_a is None)


def setup_page(
    form: SetupForm,
    reading: Reading,
    sparks: tuple[Sparkline, ...],
    proposal: Proposal | None,
) -> SetupPage:
    """Lay the questions of a set-up beside the file's own curves."""
    names = [str(c["name"]) for c in reading.channels]
    proposed = _proposed_parts(proposal, names)
    words = channel_words(proposal) if proposal else {}
    options = {part: {o.data["value"]: o for o in form[part]} for part in _PARTS}
    by_name = {spark.name: spark for spark in sparks}
    channels = tuple(
        ChannelRow(
            name=name,
            spark=by_name.get(name),
            choices=tuple(
                PartChoice(part, options[part][name], proposed.get(part) == name) for part in _PARTS
            ),
            why=_why(name, proposed, words, proposal),
        )
        for name in names
    )
    engine = form.engine_chosen
    errors = set(form.errors)
    return SetupPage(
        channels=channels,
        absent={part: options[part].get("") for part in _PARTS},
        scales=_scale_taps(form["scale"], proposal),
        proposal=proposal,
        engine=engine,
        angle_open="sync_angle_known_from" in errors or bool(_value(form, "sync_angle_known_from")),
        engine_open=bool(errors & {"engine", "fuel", "firing_order"}),
        signal_open=_value(form, "signal") not in (DEFAULT_SIGNAL, "")
        or bool(errors & {"signal", "invert"}),
        more_open=bool(errors & {"sync_bit", "sync_angle", "sync_angle_known_from"})
        or any(_value(form, name) for name in ("measured_channel", "opened_plug", "sync_bit"))
        or bool(errors & {"measured_channel", "measured_cylinder", "opened_plug"}),
        conditions_open=bool(errors & {"battery_v", "throttle", "temperature"}),
        transducer_open=bool(errors & set(MORE_FIELDS))
        or any(_value(form, name) for name in MORE_FIELDS),
        transducers=_transducer_taps(form, reading, proposal, engine),
    )


def _why(
    name: str, proposed: Mapping[str, str], words: Mapping[str, str], proposal: Proposal | None
) -> str:
    kind = _judged(proposal)[0] if proposal else None
    parts = {
        "current_channel": kind.carries if kind else "",
        "sync_channel": "sync",
        "voltage_channel": "voltage",
    }
    lines = [words.get(parts[part], "") for part, channel in proposed.items() if channel == name]
    if kind and kind.is_current and proposed.get("current_channel") == name and words.get("sign"):
        lines.append(words["sign"])
    return "; ".join(dict.fromkeys(line for line in lines if line))


def _proposed_parts(proposal: Proposal | None, names: list[str]) -> dict[str, str]:
    if proposal is None:
        return {}
    kind, judged = _judged(proposal)
    found = {}
    if judged is not None:
        found["current_channel"] = names[judged]
    if proposal.sync is not None and not kind.shows_one_cylinder:
        found["sync_channel"] = names[proposal.sync.channel]
    if proposal.battery is not None and kind.is_current:
        found["voltage_channel"] = names[proposal.battery.channel]
    return found


def _judged(proposal: Proposal) -> tuple[SignalKind, int | None]:
    """Return the signal that tells most of those found, and its channel."""
    for kind in SIGNAL_KINDS:
        at = proposal.channel_of(kind)
        if at is not None:
            return kind, at
    return kind_of(DEFAULT_SIGNAL), None


def _scale_taps(field: BoundField, proposal: Proposal | None) -> tuple[ScaleTap, ...]:
    choices = {f"{c.mv_per_a:g}": (i, c) for i, c in enumerate(proposal.scales if proposal else ())}
    mv_per_a = proposal.mv_per_a if proposal else None
    taps = [
        ScaleTap(
            option=option,
            choice=choices.get(option.data["value"], (0, None))[1],
            is_proposed=mv_per_a is not None and option.data["value"] == f"{mv_per_a:g}",
        )
        for option in field
    ]
    last = len(taps)
    return tuple(sorted(taps, key=lambda t: choices.get(t.option.data["value"], (last, None))[0]))


def _transducer_taps(
    form: SetupForm, reading: Reading, proposal: Proposal | None, engine: Engine | None
) -> tuple[TransducerTap, ...]:
    seen = proposal.pressure if proposal else None
    unit = (reading.channels[seen.channel]["unit"] or "") if seen else ""
    volts = {"": 1.0, "v": 1.0, "mv": 0.001}.get(unit.casefold())
    if "full_scale_v" in form.fields:
        volts = _number(form["full_scale_v"].value())
    fuel = _fuel(str(_value(form, "fuel")), engine)
    by_scale = {f"{s.kpa_per_v:g}": s for s in pressure_scales(seen, volts, fuel)}
    return tuple(
        TransducerTap(option, peak_words(by_scale.get(option.data["value"])))
        for option in form["pressure_scale"]
    )


def _roles_of(reading: Reading) -> ChannelRoles | None:
    if not reading.roles:
        return None
    roles = ChannelRoles.from_json(reading.roles)
    return roles if len(roles.shows) == len(reading.channels) else None


def _order_of(engine: Engine | None) -> FiringOrder | None:
    return engine.order if engine else None


def _fuel(fuel: str, engine: Engine | None) -> Fuel:
    said = fuel or (engine.fuel if engine else "")
    return "diesel" if said == "diesel" else "petrol"


def _number(value: object) -> float | None:
    try:
        return float(str(value)) or None
    except ValueError:
        return None


def _value(form: SetupForm, name: str) -> object:
    return form[name].value() or ""
