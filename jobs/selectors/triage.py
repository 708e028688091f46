"""What the initial checks of a visit say, and what they ask for."""

from datetime import date

from django.contrib.humanize.templatetags.humanize import intcomma
from django.utils.formats import date_format
from django.utils.translation import gettext as _

from jobs.core.cautions import NOT_LOOKED_AT, Fluids, fluid_cautions
from jobs.core.coolant_loss import loses_coolant
from jobs.core.triage_questions import JobAtHand, Questions, questions_for
from jobs.models import Complaint, Triage, TroubleCode, Visit
from jobs.selectors.captures import fuel_known, has_banks
from traces.core.setup import capture_cautions


def fluids_in(triage: Triage | None) -> Fluids:
    """Return oil and coolant as the initial checks found them."""
    if triage is None:
        return NOT_LOOKED_AT
    return Fluids(
        oil_level=triage.oil_level,
        fuel_in_oil=triage.fuel_in_oil,
        coolant_level=triage.coolant_level,
        coolant_loss=triage.coolant_loss,
    )


def cautions_before_cranking(visit: Visit, triage: Triage | None) -> tuple[str, ...]:
    """Return what to mind on this vehicle before a capture is made or the engine is run."""
    vehicle = visit.vehicle
    first, *others = capture_cautions(fuel_known(visit, None), vehicle.drive, vehicle.stop_start)
    return (first, *fluid_cautions(fluids_in(triage)), *others)


def coolant_is_lost(complaint: Complaint | None, triage: Triage | None) -> bool:
    """Return whether the job says that coolant is lost; what was looked at counts before words."""
    if triage and triage.coolant_loss:
        return triage.coolant_loss == Triage.YesNo.YES
    if triage and triage.coolant_level == Triage.CoolantLevel.LOW:
        return True
    return _says_coolant(complaint, triage)


def _says_coolant(complaint: Complaint | None, triage: Triage | None) -> bool:
    texts = [complaint.words, complaint.happens_note, complaint.recent_work] if complaint else []
    texts += [triage.remarks] if triage else []
    return loses_coolant(texts, complaint.warning_lights if complaint else ())


def triage_questions(visit: Visit, triage: Triage) -> Questions:
    """Return what the initial checks of a visit ask for at once, and what they fold away."""
    complaint = Complaint.objects.filter(visit=visit).first()
    codes = TroubleCode.objects.filter(visit=visit).values_list("code", flat=True)
    return questions_for(
        JobAtHand(
            fuel=fuel_known(visit, None) or "",
            happens=frozenset(complaint.happens if complaint else ()),
            warning_lights=frozenset(complaint.warning_lights if complaint else ()),
            codes=frozenset(codes),
            cranks=triage.cranks,
            says_coolant=_says_coolant(complaint, triage),
            has_banks=has_banks(visit.vehicle.engine),
        )
    )


def triage_rows(triage: Triage | None, unit: str) -> tuple[tuple[str, str], ...]:
    """Return what was answered beyond sound and battery: what it is, and what was said.

    Parameters
    ----------
    unit
        The shop's distance unit.
    """
    if triage is None:
        return ()
    rows = [
        (_("Oil level"), triage.oil_level and triage.get_oil_level_display()),
        (_("Oil used or lost"), triage.oil_loss and triage.get_oil_loss_display()),
        (_("Oil smells of fuel"), triage.fuel_in_oil and triage.get_fuel_in_oil_display()),
        (_("Coolant level"), triage.coolant_level and triage.get_coolant_level_display()),
        (_("Coolant lost"), triage.coolant_loss and triage.get_coolant_loss_display()),
        (_("Distance on the plugs"), _distance(triage.plugs_age, unit)),
        (
            _("Last timing job"),
            _job(triage.timing_work, triage.timing_work_odometer, triage.timing_work_on, unit),
        ),
        (
            _("Last fuel system job"),
            _job(triage.fuel_work, triage.fuel_work_odometer, triage.fuel_work_on, unit),
        ),
        (_("How the engine sits"), triage.direction and triage.get_direction_display()),
        (
            _("Bank A (bank 1) lies on the"),
            triage.bank_a_side and triage.get_bank_a_side_display(),
        ),
    ]
    return tuple((label, str(said)) for label, said in rows if said)


def _distance(distance: int | None, unit: str) -> str:
    return "" if distance is None else f"{intcomma(distance)} {unit}"


def _job(words: str, odometer: int | None, on: date | None, unit: str) -> str:
    when = [_distance(odometer, unit)] if odometer is not None else []
    when += [date_format(on, "j M Y")] if on is not None else []
    return f"{words} ({', '.join(when)})" if words and when else words
