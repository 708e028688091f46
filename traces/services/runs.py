"""Having a capture analysed."""

from collections.abc import Callable
from uuid import UUID, uuid4

from django.conf import settings as django_settings
from django.db import transaction
from django.utils.translation import gettext as _

from engines.models import Engine
from shopdiag.people.models import Member, Shop
from traces.core.setup import (
    SAME_CHANNEL,
    SAME_VOLTAGE_CHANNEL,
    AnalysisSetup,
    Conditions,
    SetupError,
)
from traces.core.waveform import index_of_channel
from traces.models import Capture, CaptureSetup, Reading, Run, Work
from traces.runs.sending import send
from traces.selectors.clock import database_now
from traces.selectors.samples import rate_hz_of
from traces.services.event_angles import event_angle_keep

ON_SETUP: list[Callable[[Capture, AnalysisSetup, Member], None]] = []
"""Who else hears of a set-up, and whose it is, in its transaction; `SetupError` refuses it."""


class TokenUsedError(SetupError):
    """The form token made another capture's run, which would answer for this one."""


def run_add(
    *,
    member: Member,
    capture: Capture,
    analysis: AnalysisSetup,
    engine: Engine | None = None,
    conditions: Conditions | None = None,
    form_token: UUID | None = None,
    came_from: CaptureSetup | None = None,
    change: str = "",
    same_as: Run | None = None,
    angle_known_from: str = "",
) -> Run:
    """Set a capture's analysis up and have it done; the same form token gives the same run.

    Parameters
    ----------
    came_from, change
        The set-up that a hand changed into this one, and how, in words.
    same_as
        A run of the very same set-up. Where it was done with these samples and this version,
        its result is the new run's at once.
    angle_known_from
        How a typed sync angle is known; with it the angle is kept with the engine.

    Raises
    ------
    SetupError
        If the file is not read yet or the set-up does not fit it; one sentence for the person.
    TokenUsedError
        If the form token was used for another capture.
    """
    token = form_token or uuid4()
    conditions = conditions or Conditions()
    with transaction.atomic():
        # One set-up of a shop at a time here, so that a double submit finds the first.
        Shop.objects.select_for_update(no_key=True).get(pk=member.shop_id)
        earlier = Run.objects.filter(setup__form_token=token).first()
        if earlier and earlier.capture_id == capture.pk:
            return earlier
        if earlier:
            raise TokenUsedError(_("This token was used before; make a new UUID for each capture."))
        reading = Capture.objects.select_related("current_reading").get(pk=capture.pk).reading
        check_against_reading(reading, analysis)
        for heard in ON_SETUP:
            heard(capture, analysis, member)
        setup = CaptureSetup.objects.create(
            capture=capture,
            engine=engine,
            settings=analysis.to_json(),
            fuel_off=conditions.fuel_off,
            charger_off=conditions.charger_off,
            throttle=conditions.throttle,
            temperature=conditions.temperature,
            battery_v=conditions.battery_v,
            form_token=token,
            came_from=came_from,
            change=change,
            created_by=member,
        )
        run = Run(capture=capture, setup=setup, reading=reading, queued_at=database_now())
        if same_as is None or not _take_over(run, same_as):
            transaction.on_commit(lambda: send(Run, run.pk), robust=True)
        run.save()
        sync = analysis.sync
        if engine and sync and sync.angle_deg is not None and angle_known_from:
            event_angle_keep(
                member=member,
                engine=engine,
                event=sync.event,
                cylinder=sync.cylinder,
                angle_deg=sync.angle_deg,
                known_from=angle_known_from,
            )
    return run


def _take_over(run: Run, done: Run) -> bool:
    """Give a new run the result of one that must come out the same; return whether it does."""
    same = (
        done.state == Work.State.DONE
        and done.reading_id == run.reading_id
        and done.code_version == django_settings.VERSION
        and done.setup.settings == run.setup.settings
    )
    if same:
        run.state = Work.State.DONE
        run.finished_at = run.queued_at
        run.verdict, run.result = done.verdict, done.result
        run.sha256, run.code_version = done.sha256, done.code_version
    return same


def check_against_reading(reading: Reading, analysis: AnalysisSetup) -> None:
    """Refuse a set-up that the file cannot answer.

    Raises
    ------
    SetupError
        With the first thing that is wrong.
    """
    if reading.state != Work.State.DONE:
        raise SetupError(
            _("The file has not been read yet; wait until its channels are shown, then set it up.")
        )
    wanted = [analysis.current_channel] + ([analysis.sync.channel] if analysis.sync else [])
    found = [_channel(reading, name) for name in wanted]
    if len(set(found)) < len(found):
        raise SetupError(SAME_CHANNEL)
    if analysis.voltage_channel and _channel(reading, analysis.voltage_channel) in found:
        raise SetupError(SAME_VOLTAGE_CHANNEL)
    if analysis.measured_event:
        _channel(reading, analysis.measured_event.channel)
    clamp = reading.channels[found[0]]
    if (
        analysis.kind.needs_scale
        and clamp["unit"] is None
        and reading.understood.get("full_scale")
        and analysis.full_scale_v is None
    ):
        raise SetupError(
            _(
                "This file holds values as a fraction of full scale, not volts; enter how many "
                "volts full scale is."
            )
        )
    if rate_hz_of(reading, analysis) is None:
        raise SetupError(
            _("The file does not say how fast it was sampled; enter the sample rate in hertz.")
        )


def _channel(reading: Reading, wanted: str) -> int:
    """Return the index of a channel given by name or, failing that, by number from 1."""
    names = [str(c["name"]) for c in reading.channels]
    at = index_of_channel(names, wanted)
    if at is not None:
        return at
    raise SetupError(
        _("There is no channel “%(wanted)s” in this file; it has %(names)s.")
        % {"wanted": wanted, "names": ", ".join(names) or _("none")}
    )
