"""Reads about engines."""

from django.db.models import F, Q

from engines.core.library_words import library_name, library_sentence
from engines.core.positions import PositionError
from engines.models import BankAccess, Engine, EngineQuerySet
from shopdiag.people.models import Member, Shop


def cylinder_counts(member: Member) -> list[int]:
    """Return the numbers of cylinders that engines the member may see have, rising."""
    seen = Engine.objects.seen_by(member).order_by("cylinders")
    return list(seen.values_list("cylinders", flat=True).distinct())


def engines_found(
    member: Member, *, text: str = "", cylinders: int | None = None, retired: bool = False
) -> EngineQuerySet:
    """Return the engines whose name, firing order or source has every word of `text`.

    With `retired`, the shop's own retired engines are among them.
    """
    seen = Engine.objects.seen_by(member)
    own_retired = Q(shop_id=member.shop_id) if retired else Q(pk=None)
    seen = seen.filter(Q(retired=False) | own_retired)
    if cylinders is not None:
        seen = seen.filter(cylinders=cylinders)
    library = _library_as_read() if text else {}
    for word in text.split():
        seen = seen.filter(
            Q(name__icontains=word)
            | Q(pk__in=[pk for pk, words in library.items() if word.casefold() in words])
            | Q(firing_order__contains=word.replace(",", "-").strip("-"))
            | Q(source__icontains=word)
        )
    # The shop's own first: they are fewer, and somebody made them for a reason.
    return seen.order_by(F("shop").asc(nulls_last=True), "cylinders", "layout", "name", "pk")


def _library_as_read() -> dict[int, str]:
    """Return name and source of the library's engines in the reader's language, by id."""
    rows = Engine.objects.filter(shop=None).values_list("pk", "name", "source")
    return {
        pk: f"{library_name(name)} {library_sentence(source)}".casefold()
        for pk, name, source in rows
    }


def access_by_bank(shop: Shop, engine: Engine) -> dict[str, BankAccess]:
    """Return what a shop keeps on reaching the plugs of an engine, by the bank's letter."""
    rows = BankAccess.objects.filter(shop=shop, engine=engine).select_related("created_by__user")
    return {row.bank: row for row in rows.order_by("pk")}


def access_minutes(shop: Shop, engine: Engine | None) -> dict[int, int]:
    """Return how many minutes each cylinder's plug takes; cylinders nobody timed are left out."""
    if engine is None:
        return {}
    kept = access_by_bank(shop, engine)
    try:
        places = engine.places
    except PositionError:
        return {}
    return {c: kept[place.bank].minutes for c, place in places.items() if place.bank in kept}
