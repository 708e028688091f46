"""Finding jobs by whatever the customer on the phone remembers."""

from django.db.models import Case, Exists, OuterRef, Q, QuerySet, Value, When
from django.utils.translation import gettext_lazy as _

from jobs.core.alike_names import names_alike
from jobs.core.search import Match, Query, plate_orders, spellings
from jobs.core.stages import Stage
from jobs.models import Customer, Note, TroubleCode, Visit, WorkOrder
from shopdiag.people.core.roles import Action
from shopdiag.people.models import Member

MAX_COMPARED = 10_000
"""Customers whose names are compared letter by letter: the newest of the shop."""
_VIN_END = 6
_PHONE_END = 6

_WORD_FIELDS = (
    "vehicle__make",
    "vehicle__model",
    "vehicle__engine_code",
    "complaint__words",
    "complaint__happens_note",
    "complaint__recent_work",
    "triage__remarks",
    "outcome__cause",
    "outcome__correction",
    "outcome__told_customer",
)
_NAME = "vehicle__customer__name"

_MATCH_WORDS = {
    Match.NUMBER: _("by job number"),
    Match.PLATE: _("by plate"),
    Match.PLATE_REORDERED: _("by plate, in another order"),
    Match.VIN: _("by VIN"),
    Match.VIN_END: _("by the end of the VIN"),
    Match.PHONE: _("by phone"),
    Match.NAME: _("by name"),
    Match.CODE: _("by code"),
    Match.PLATE_BEGIN: _("by the start of the plate"),
    Match.PLATE_PART: _("by part of the plate"),
    Match.VIN_PART: _("by part of the VIN"),
    Match.PHONE_PART: _("by part of the phone number"),
    Match.WORDS: _("by its words"),
    Match.NAME_ALIKE: _("like the name"),
}


def visits_found(member: Member, query: Query) -> QuerySet[Visit]:
    """Return the visits that fit `query` in any way, the surest first, then the newest.

    Each has its `rank`, which `match_words` tells. Without the right to search only open jobs
    are found, and without the right to the customer's contact none by name or phone.
    """
    if query.is_empty:
        return Visit.objects.none()
    visits = Visit.objects.seen_by(member)
    if not member.may(Action.SEARCH):
        visits = visits.exclude(stage=Stage.CLOSED)
    sees_contact = member.may(Action.SEE_CONTACT)
    ways = _by_vehicle(query)
    if sees_contact:
        ways |= _by_contact(query)
    fields = (_NAME, *_WORD_FIELDS) if sees_contact else _WORD_FIELDS
    ways[Match.WORDS] = _by_words(query.words, fields)
    alike = _customers_alike(member, query) if sees_contact else []
    cases = [(condition, int(match)) for match, condition in sorted(ways.items())]
    cases += [(Q(vehicle__customer=pk), Match.NAME_ALIKE + n) for n, pk in enumerate(alike)]
    fits = Q(vehicle__customer__in=alike)
    for condition in ways.values():
        fits |= condition
    return (
        visits.with_vehicle()
        .filter(fits)
        .annotate(rank=Case(*(When(way, then=Value(rank)) for way, rank in cases)))
        .select_related("complaint", "outcome")
        .prefetch_related("codes")
        .order_by("rank", "-pk")
    )


def match_words(rank: int) -> str:
    """Return how a job of this `rank` was found; names alike rank by how close they are."""
    return str(_MATCH_WORDS[Match(min(rank, Match.NAME_ALIKE))])


def _by_vehicle(query: Query) -> dict[Match, Q]:
    """Return the ways of finding a job by number, plate, VIN and code."""
    ways: dict[Match, Q] = {}
    if query.number is not None:
        ways[Match.NUMBER] = Q(number=query.number)
    if query.plate:
        ways[Match.PLATE] = Q(vehicle__plate_key=query.plate)
        ways[Match.PLATE_BEGIN] = Q(vehicle__plate_key__startswith=query.plate)
        ways[Match.PLATE_PART] = Q(vehicle__plate_key__contains=query.plate)
    if query.plate_groups:
        ways[Match.PLATE_REORDERED] = Q(vehicle__plate_key__in=plate_orders(query.plate_groups))
        if all(len(group) > 1 for group in query.plate_groups):
            every = Q()
            for group in query.plate_groups:
                every &= Q(vehicle__plate_key__contains=group)
            ways[Match.PLATE_PART] |= every
    if query.vin:
        ways[Match.VIN] = Q(vehicle__vin=query.vin)
        ways[Match.VIN_PART] = Q(vehicle__vin__contains=query.vin)
        if len(query.vin) >= _VIN_END:
            ways[Match.VIN_END] = Q(vehicle__vin__endswith=query.vin)
    if query.code:
        # A code with its failure type begins with the code itself.
        same = TroubleCode.objects.filter(visit=OuterRef("pk"), code__startswith=query.code)
        ways[Match.CODE] = Q(Exists(same))
    return ways


def _by_contact(query: Query) -> dict[Match, Q]:
    """Return the ways of finding a job by the customer's name and phone."""
    ways: dict[Match, Q] = {Match.NAME: _by_words(query.words, (_NAME,), in_notes=False)}
    if query.digits:
        phone = "vehicle__customer__phone_key"
        ways[Match.PHONE] = Q(**{phone: query.digits})
        ways[Match.PHONE_PART] = Q(**{f"{phone}__contains": query.digits})
        # A number may be kept with the country's code and said without it.
        if len(said := query.digits.lstrip("0")) >= _PHONE_END:
            ways[Match.PHONE] |= Q(**{f"{phone}__endswith": said})
    return ways


def _customers_alike(member: Member, query: Query) -> list[int]:
    """Return the customers whose names are spelled nearly like `query`, the closest first."""
    if any(c.isdigit() for c in query.text):
        return []
    newest = Customer.objects.seen_by(member).order_by("-pk").values_list("pk", "name")
    return names_alike(query.text, dict(newest[:MAX_COMPARED]))


def _by_words(words: tuple[str, ...], fields: tuple[str, ...], *, in_notes: bool = True) -> Q:
    """Return the condition that every word stands somewhere in the visit."""
    every = Q()
    for word in words:
        somewhere = Q()
        for spelling in spellings(word):
            for field in fields:
                somewhere |= Q(**{f"{field}__icontains": spelling})
            if in_notes:
                notes = Note.objects.filter(visit=OuterRef("pk"), text__icontains=spelling)
                orders = WorkOrder.objects.filter(visit=OuterRef("pk"), summary__icontains=spelling)
                somewhere |= Q(Exists(notes)) | Q(Exists(orders))
        every &= somewhere
    return every
