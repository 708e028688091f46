"""What the timeline says of initial checks, codes, freeze frames and misfire counts."""

from collections.abc import Mapping, Sequence

from django.utils.translation import gettext, ngettext

from jobs.models import Triage, TroubleCode


def checks_words(triage: Triage) -> str:
    """Return what was changed, with how it cranks."""
    heard = (
        gettext(" (cranks: %(cranks)s)") % {"cranks": triage.get_cranks_display().lower()}
        if triage.cranks
        else ""
    )
    return gettext("the initial checks%(heard)s") % {"heard": heard}


def codes_words(added: Sequence[TroubleCode], odd: int) -> str:
    """Return which codes a pasted text brought, and how many only looked like some."""
    shown = ", ".join(f"{c.code} ({c.get_status_display().lower()})" for c in added[:8])
    if len(added) > 8:
        shown += gettext(" and %(count)s more") % {"count": len(added) - 8}
    words = (
        gettext("added codes: %(shown)s") % {"shown": shown}
        if added
        else gettext("pasted a text without new codes")
    )
    return words + (gettext("; %(odd)s that only looked like codes") % {"odd": odd} if odd else "")


def frame_words(code: str, count: int, *, is_corrected: bool) -> str:
    """Return of which code a freeze frame with so many values was added or corrected."""
    words = (
        gettext("corrected a freeze frame%(of)s with %(values)s")
        if is_corrected
        else gettext("added a freeze frame%(of)s with %(values)s")
    )
    return words % {
        "of": gettext(" of %(known_code)s") % {"known_code": code} if code else "",
        "values": ngettext("%(count)s value", "%(count)s values", count) % {"count": count},
    }


def counts_words(counts: Mapping[int, int], *, is_corrected: bool) -> str:
    """Return of how many cylinders misfires were counted, and on which most."""
    most = max(counts, key=lambda cylinder: counts[cylinder])
    worst = (
        gettext(", most on cylinder %(most)s") % {"most": most}
        if counts[most]
        else gettext(", none counted")
    )
    words = (
        gettext("corrected misfire counts of %(count)s cylinders%(worst)s")
        if is_corrected
        else gettext("added misfire counts of %(count)s cylinders%(worst)s")
    )
    return words % {"count": len(counts), "worst": worst}
