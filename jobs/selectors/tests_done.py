"""What was tested on a job before an order is made, so that nothing is asked for twice."""

from django.utils.translation import gettext

from jobs.core.wanted_test_texts import SWAP
from jobs.models import (
    CylinderFinding,
    SwapTest,
    Triage,
    TroubleCode,
    Visit,
)
from jobs.selectors.captures import cranked_runs
from jobs.selectors.findings import listed_once
from jobs.selectors.in_cylinder import CylindersInTurn, measured_done
from jobs.selectors.misfires import counts_standing
from jobs.selectors.running import RunningBeside, idling_done
from jobs.selectors.triage import triage_rows
from shopdiag.people.core.numerals import written

_MOST_CODES = 8


def tests_done(
    visit: Visit, running: RunningBeside | None, in_turn: CylindersInTurn | None
) -> tuple[frozenset[str], tuple[str, ...]]:
    """Return keys and sentences of what need not be repeated."""
    sentences = [*_triage_done(visit), *_codes_done(visit), *_captures_done(visit)]
    if idling := idling_done(running):
        sentences.append(idling)
    sentences += measured_done(in_turn)
    keys: set[str] = set()
    findings = listed_once(
        CylinderFinding.objects.filter(work_order__visit=visit, replaced_by=None)
        .exclude(outcome=CylinderFinding.Outcome.NOT_DONE)
        .order_by("pk")
    )
    for finding in findings:
        keys.add(finding.test)
        sentences.append(
            gettext("Earlier work order: %(test)s%(on)s: %(outcome)s.")
            % {
                "test": finding.get_test_display().lower(),
                "on": _on(finding.cylinder),
                "outcome": finding.get_outcome_display().lower(),
            }
        )
    for swap in SwapTest.objects.filter(work_order__visit=visit):
        keys.add(SWAP.key)
        sentences.append(
            gettext(
                "Earlier work order: %(part)s moved from cylinder %(from_cylinder)s to "
                "%(to_cylinder)s: %(reading)s"
            )
            % {
                "part": swap.get_part_display().lower(),
                "from_cylinder": swap.from_cylinder,
                "to_cylinder": swap.to_cylinder,
                "reading": swap.reading,
            }
        )
    return frozenset(keys), tuple(sentences)


def _on(cylinder: int | None) -> str:
    return "" if cylinder is None else gettext(" on cylinder %(cylinder)s") % {"cylinder": cylinder}


def _triage_done(visit: Visit) -> list[str]:
    triage = Triage.objects.filter(visit=visit).first()
    if triage is None:
        return []
    sentences = []
    if triage.cranks:
        sentences.append(
            gettext("Cranking sound: %(cranks)s.") % {"cranks": triage.get_cranks_display().lower()}
        )
    if triage.battery_v is not None:
        sentences.append(
            gettext("Battery at rest: %(battery_v)s V.")
            % {"battery_v": written(f"{triage.battery_v:.4g}")}
        )
    rows = triage_rows(triage, visit.shop.distance_unit)
    return sentences + [f"{label}: {said}." for label, said in rows]


def _codes_done(visit: Visit) -> list[str]:
    sentences = []
    codes = list(TroubleCode.objects.filter(visit=visit))
    if codes:
        shown = ", ".join(
            f"{c.code} ({c.get_status_display().lower()})" if c.status else c.code
            for c in codes[:_MOST_CODES]
        )
        more = (
            gettext(" and %(count)s more") % {"count": len(codes) - _MOST_CODES}
            if len(codes) > _MOST_CODES
            else ""
        )
        sentences.append(gettext("Codes read: %(shown)s%(more)s.") % {"shown": shown, "more": more})
    counts = counts_standing(visit)
    if counts and isinstance(counts.counts, dict):
        shown = ", ".join(
            gettext("cyl. %(c)s: %(n)s") % {"c": c, "n": n} for c, n in counts.counts.items()
        )
        sentences.append(gettext("Misfires counted: %(shown)s.") % {"shown": shown})
    return sentences


def _captures_done(visit: Visit) -> list[str]:
    """Count captures, each once, however often it was analysed."""
    done = cranked_runs(visit).exclude(verdict="")
    pairs = done.values_list("capture_id", "verdict")
    captures = {capture for capture, _ in pairs}
    if not captures:
        return []
    judged = {capture for capture, verdict in pairs if verdict != "not judged"}
    return [
        gettext("Cranking captures analysed: %(count)s, of which %(count_2)s could be judged.")
        % {"count": len(captures), "count_2": len(judged)}
    ]
