"""The set-up that a capture is offered, and where it comes from."""

from collections.abc import Sequence

from django.utils import timezone
from django.utils.formats import date_format
from django.utils.translation import gettext as _

from shopdiag.people.models import Member
from traces.core.setup import AnalysisSetup, edits_words
from traces.models import Capture, CaptureSetup

_OWN_LOOKED_AT = 20


def last_setup(member: Member, capture: Capture) -> CaptureSetup | None:
    """Return the set-up to offer: this capture's newest, else one of the member's own last ones.

    The newest of those whose channels this file has, or simply the newest.
    """
    setups = CaptureSetup.objects.filter(capture__shop_id=member.shop_id).select_related(
        "engine", "capture"
    )
    of_capture = setups.filter(capture=capture).order_by("-pk").first()
    if of_capture is not None:
        return of_capture
    own = setups.filter(created_by=member).order_by("-pk")[:_OWN_LOOKED_AT]
    return setup_like_for(capture, list(own))


def setup_source(setup: CaptureSetup, capture: Capture, *, has_scale: bool = True) -> str:
    """Say what of a set-up offered for a capture comes from where.

    `has_scale` tells whether the clamp's scale is filled in too; one that fits the engine badly
    is asked anew.
    """
    at = date_format(timezone.localtime(setup.created_at), "j M Y, H:i")
    if setup.capture_id == capture.pk:
        return _(
            "Filled in from this capture's set-up of %(at)s; check every line against "
            "this capture.%(left_behind)s"
        ) % {"at": at, "left_behind": _left_behind(setup)}
    if not has_scale and setup.analysis.kind.needs_scale:
        return _(
            "Channels are filled in from the set-up of “%(capture)s” of %(at)s; check them "
            "against this capture. The clamp's scale, engine, sync cylinder and conditions are "
            "left to you."
        ) % {"capture": setup.capture, "at": at}
    return _(
        "Clamp and channels are filled in from the set-up of “%(capture)s” of "
        "%(at)s; check them against this capture. Engine, sync cylinder and "
        "conditions are left to you."
    ) % {"capture": setup.capture, "at": at}


def setup_like_for(capture: Capture, setups: Sequence[CaptureSetup]) -> CaptureSetup | None:
    """Return which of several set-ups, the newest first, a capture may take over.

    One whose channels the file has by name comes first: what stands in the same place need not
    be the same.
    """
    names = {str(channel["name"]).casefold() for channel in capture.reading.channels}
    named = (s for s in setups if {c.casefold() for c in channels_named(s.analysis)} <= names)
    return next(named, setups[0] if setups else None)


def channels_named(analysis: AnalysisSetup) -> tuple[str, ...]:
    """Return the channels that a set-up names."""
    asked = (
        analysis.current_channel,
        analysis.sync.channel if analysis.sync else None,
        analysis.voltage_channel,
        analysis.measured_event.channel if analysis.measured_event else None,
    )
    return tuple(channel.strip() for channel in asked if channel)


def _left_behind(setup: CaptureSetup) -> str:
    """Say which changes by hand a set-up made anew does not take along."""
    changed = [str(words) for words in edits_words(setup.analysis.hand)]
    if not changed:
        return ""
    return _(" What was changed by hand does not go along: %(changed)s. Do it again after.") % {
        "changed": "; ".join(changed)
    }
