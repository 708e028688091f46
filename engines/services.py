"""Writes to engines: a shop's own ones, and the loading of the library."""

import json
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any
from uuid import UUID

from django.core.exceptions import ValidationError
from django.db import IntegrityError, transaction
from django.utils.translation import gettext as _

from engines.core.access import doubts_about_access
from engines.core.firing import FiringOrder
from engines.core.layouts import layout_of
from engines.core.positions import Numbering, Positions, places_by_numbering
from engines.models import NAME_TAKEN, BankAccess, Engine, positions_json
from engines.selectors import access_by_bank
from shopdiag.people.asking_back import Confirmed, ask_back
from shopdiag.people.models import Member, Shop
from shopdiag.people.services import versioned_save

LIBRARY_FILE = Path(__file__).resolve().parent / "data" / "library.json"

_FIELDS = (
    "name",
    "layout",
    "firing_order",
    "cylinders",
    "tdc_angles",
    "positions",
    "numbering",
    "fuel",
    "coils",
    "injection",
    "source",
)


@dataclass(frozen=True, slots=True)
class EngineInput:
    """What describes an engine, as a form or an API call hands it over."""

    name: str
    layout: str
    order: FiringOrder
    places: Positions
    numbering: str
    fuel: str
    source: str
    coils: str = ""
    injection: str = ""


@transaction.atomic
def engine_create(*, member: Member, given: EngineInput) -> Engine:
    """Add an engine to the member's shop.

    Raises
    ------
    ValidationError
        If the engine does not hold together or its name is taken.
    """
    engine = Engine(shop=member.shop, created_by=member, changed_by=member)
    _fill(engine, given)
    engine.full_clean()
    with _name_still_free():
        engine.save()
    return engine


@transaction.atomic
def engine_change(
    *, engine: Engine, expected_version: int, member: Member, given: EngineInput
) -> Engine:
    """Change one of the shop's own engines.

    Raises
    ------
    ValidationError
        If the engine does not hold together, its name is taken, or it is not the shop's own.
    SavedMeanwhileError
        If somebody else saved it after this member opened it.
    """
    _check_own(engine, member)
    _fill(engine, given)
    engine.full_clean()
    with _name_still_free():
        return versioned_save(
            row=engine, expected_version=expected_version, member=member, fields=_FIELDS
        )


@transaction.atomic
def engine_retire(*, engine: Engine, member: Member, retired: bool = True) -> Engine:
    """Take an own engine out of the lists, or bring it back; captures that used it keep it.

    Raises
    ------
    ValidationError
        If the engine is not the shop's own, or another one took its name meanwhile.
    """
    _check_own(engine, member)
    if engine.retired == retired:
        return engine
    engine.retired = retired
    engine.full_clean()
    with _name_still_free():
        return versioned_save(
            row=engine, expected_version=engine.version, member=member, fields=["retired"]
        )


@transaction.atomic
def access_keep(
    *,
    member: Member,
    engine: Engine,
    minutes: Mapping[str, int],
    note: str | None = None,
    form_token: UUID | None = None,
    confirmed: Confirmed = False,
) -> tuple[BankAccess, ...]:
    """Keep how long each bank's plugs take to reach; what stands already stays one line.

    The same form token keeps nothing more, so that a form sent twice counts once.

    Parameters
    ----------
    minutes
        By the bank's letter, empty on an engine with one row.
    note
        What is in the way; None keeps what stands with each bank.
    confirmed
        Whether a person was asked about odd minutes and says that they are right.

    Raises
    ------
    ValidationError
        If the engine has no such bank, odd minutes are not confirmed, or a text is too long.
    """
    strange = set(minutes) - set(engine.layout_kind.banks)
    if strange:
        raise ValidationError(_("This engine has no bank %(strange)s.") % {"strange": min(strange)})
    Shop.objects.select_for_update(no_key=True).get(pk=member.shop_id)
    sent_before = BankAccess.objects.filter(shop_id=member.shop_id, engine=engine)
    if form_token and sent_before.filter(form_token=form_token).exists():
        return ()
    kept = access_by_bank(member.shop, engine)
    asked = doubts_about_access(
        value for bank, value in minutes.items() if bank not in kept or kept[bank].minutes != value
    )
    ask_back(confirmed, asked, about=minutes)
    added = []
    for bank, value in minutes.items():
        before = kept.get(bank)
        said = note.strip() if note is not None else before.note if before else ""
        if before and (before.minutes, before.note) == (value, said):
            continue
        row = BankAccess(
            shop_id=member.shop_id,
            engine=engine,
            bank=bank,
            minutes=value,
            note=said,
            form_token=form_token,
            created_by=member,
        )
        row.full_clean()
        row.save()
        added.append(row)
    return tuple(added)


@contextmanager
def _name_still_free() -> Iterator[None]:
    """Say it in words when somebody took the name between the check and the write."""
    try:
        with transaction.atomic():
            yield
    except IntegrityError:
        raise ValidationError(NAME_TAKEN) from None


def _check_own(engine: Engine, member: Member) -> None:
    if engine.shop_id != member.shop_id:
        raise ValidationError(
            _("An engine of the library cannot be changed; copy it and change the copy.")
        )


def _fill(engine: Engine, given: EngineInput) -> None:
    engine.name = given.name
    engine.layout = given.layout
    engine.firing_order = str(given.order)
    engine.cylinders = len(given.order)
    engine.tdc_angles = None if given.order.is_even else list(given.order.tdc_angles_deg)
    engine.positions = positions_json(given.places)
    engine.numbering = given.numbering
    engine.fuel = given.fuel
    engine.source = given.source
    engine.coils, engine.injection = given.coils, given.injection


@dataclass(frozen=True, slots=True)
class LibraryLoad:
    """What loading the library changed, in rows."""

    created: int
    updated: int
    unchanged: int
    retired: int


@transaction.atomic
def library_load(*, path: Path = LIBRARY_FILE) -> LibraryLoad:
    """Bring the library's rows to what the file says; never touches a shop's own engines.

    Rows that the file no longer has are retired, since captures may point at them.

    Raises
    ------
    ValidationError
        If the file has an engine that does not hold together, or one key twice.
    """
    document = json.loads(path.read_text(encoding="utf-8"))
    wanted = [_library_engine(row, document["numbering"]) for row in document["engines"]]
    _check_keys([str(engine.key) for engine in wanted])
    standing = {engine.key: engine for engine in Engine.objects.filter(shop=None)}
    created = updated = unchanged = 0
    for engine in wanted:
        old = standing.pop(engine.key, None)
        if old is None:
            engine.full_clean()
            engine.save()
            created += 1
        elif old.retired or any(getattr(old, f) != getattr(engine, f) for f in _FIELDS):
            for name in _FIELDS:
                setattr(old, name, getattr(engine, name))
            old.retired = False
            old.full_clean()
            old.version += 1
            old.save()
            updated += 1
        else:
            unchanged += 1
    gone = [engine.pk for engine in standing.values() if not engine.retired]
    retired = Engine.objects.filter(pk__in=gone).update(retired=True)
    return LibraryLoad(created, updated, unchanged, retired)


def _check_keys(keys: Sequence[str]) -> None:
    twice = sorted({key for key in keys if keys.count(key) > 1})
    if twice:
        raise ValidationError(
            _("The library has the key “%(twice)s” twice; rename one.") % {"twice": twice[0]}
        )


def _library_engine(row: dict[str, Any], notes: dict[str, str]) -> Engine:
    order = FiringOrder.parse(row["firing_order"], row.get("tdc_angles"))
    layout = layout_of(row["layout"])
    layout.check_cylinders(len(order))
    numbering = Numbering(row["numbering"])
    note = notes["front-one-row"] if len(layout.banks) == 1 else notes[numbering]
    engine = Engine(key=row["key"])
    _fill(
        engine,
        EngineInput(
            name=row["name"],
            layout=layout.key,
            order=order,
            places=places_by_numbering(layout, len(order), numbering),
            numbering=note,
            fuel=row.get("fuel", Engine.Fuel.PETROL),
            source=row["source"],
        ),
    )
    return engine
