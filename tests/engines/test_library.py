"""The library of layouts and firing orders, and its loading."""

import json
import re
from pathlib import Path
from typing import Any

import pytest
from django.core.exceptions import ValidationError
from django.core.management import call_command
from django.utils import translation

from engines.core.firing import FiringOrder
from engines.models import Engine
from engines.selectors import engines_found
from engines.services import LIBRARY_FILE, EngineInput, engine_create, library_load
from tests.wording import says, says_only, wording

ROWS = json.loads(LIBRARY_FILE.read_text(encoding="utf-8"))["engines"]
FOUR = next(row for row in ROWS if row["key"] == "i4-1-3-4-2")


def test_all_words_of_the_library_are_read_in_spanish(library):
    with translation.override("es"):
        for engine in library.values():
            words, *_ = engine.name_words.split(", ")
            assert words != engine.name.split(", ")[0] or re.match(r"V\d", words)
            assert engine.source_words != engine.source
            assert engine.numbering_words != engine.numbering
            assert f", {engine.firing_order}" in engine.name_words
            assert not re.search("even|odd", engine.name_words)


def test_an_engine_is_found_by_its_words_in_the_readers_language(library, cast):
    def found(text):
        return {e.key for e in engines_found(cast.owner, text=text)}

    assert found("inline five") == {"i5-1-2-4-5-3"}
    assert found("cinco línea") == set()
    with translation.override("es"):
        assert found("cinco línea") == found("inline five") == {"i5-1-2-4-5-3"}


def test_a_shops_own_engine_is_called_as_the_shop_calls_it(library, cast):
    own = Engine.objects.get(key="i5-1-2-4-5-3")
    library_s_name = own.name
    own.shop, own.key = cast.shop, None
    with translation.override("es"):
        assert own.name_words == library_s_name


def test_all_orders_are_there():
    # The orders of the trade's common practice; V10, V12, flat six, odd-fire, the V6 1-4-3-6-2-5,
    # the V8 that begin 1-2-7 or 1-8-7-3, the narrow-angle six and the twins (from memory).
    orders = {(row["layout"], row["firing_order"]) for row in ROWS}
    assert orders == {
        ("I2", "1-2"),
        ("I3", "1-3-2"),
        ("I3", "1-2-3"),
        ("I4", "1-3-4-2"),
        ("I4", "1-2-4-3"),
        ("F4", "1-3-2-4"),
        ("F4", "1-4-3-2"),
        ("I5", "1-2-4-5-3"),
        ("I6", "1-5-3-6-2-4"),
        ("I6", "1-4-2-6-3-5"),
        ("V6", "1-2-3-4-5-6"),
        ("V6", "1-4-2-5-3-6"),
        ("V6", "1-6-5-4-3-2"),
        ("V6", "1-4-3-6-2-5"),
        ("F6", "1-6-2-4-3-5"),
        ("F6", "1-6-3-2-5-4"),
        ("V8", "1-8-4-3-6-5-7-2"),
        ("V8", "1-8-7-2-6-5-4-3"),
        ("V8", "1-3-7-2-6-5-4-8"),
        ("V8", "1-5-4-8-6-3-7-2"),
        ("V8", "1-5-4-2-6-3-7-8"),
        ("V8", "1-2-7-8-4-5-6-3"),
        ("V8", "1-2-7-3-4-5-6-8"),
        ("V8", "1-8-7-3-6-5-4-2"),
        ("V10", "1-6-5-10-2-7-3-8-4-9"),
        ("V10", "1-10-9-4-3-6-5-8-7-2"),
        ("V10-odd", "1-6-5-10-2-7-3-8-4-9"),
        ("V10-odd", "1-10-9-4-3-6-5-8-7-2"),
        ("V12", "1-7-5-11-3-9-6-12-2-8-4-10"),
        ("V6-odd", "1-6-5-4-3-2"),
        ("V2", "1-2"),
    }


@pytest.mark.parametrize("row", ROWS, ids=lambda row: row["key"])
def test_every_row_is_valid_and_says_where_it_comes_from(row):
    order = FiringOrder.parse(row["firing_order"], row.get("tdc_angles"))
    assert str(order) == row["firing_order"]
    assert "confirm" in row["source"].lower()
    assert row["key"] == row["key"].lower()
    if "tdc_angles" not in row:
        assert order.intervals_deg == pytest.approx([720 / len(order)] * len(order))


def test_uneven_rows_have_the_gaps_their_names_say():
    gaps = {
        row["key"].split("-1-")[0]: FiringOrder.parse(
            row["firing_order"], row["tdc_angles"]
        ).intervals_deg
        for row in ROWS
        if "tdc_angles" in row
    }
    # From memory: odd-fire 150/90, semi-even 132/108, V10 90/54, 45 degree twin 315/405, and the
    # in-line twin with pins half a turn apart. The V10 of 54/90 follows from its vee, see below.
    assert gaps == {
        "v6-odd-150-90": (150, 90) * 3,
        "v6-odd-132-108": (132, 108) * 3,
        "v10-odd-90-54": (90, 54) * 5,
        "v10-odd-54-90": (54, 90) * 5,
        "i2-180-540": (180, 540),
        "v2-45": (315, 405),
    }


def _bank_leads_deg(engine: Engine) -> set[float]:
    """Crank angle, within a turn, from each bank A cylinder to the one across it."""
    places = engine.places
    at = {(place.bank, place.place): cylinder for cylinder, place in places.items()}
    angle_of = engine.order.angle_of
    return {
        (angle_of(at["B", place]) - angle_of(at["A", place])) % 360
        for bank, place in at
        if bank == "A"
    }


def test_banks_fit_the_crankshaft(library):
    # Two cylinders across a vee share a crankpin, so their top dead centres lie the bank
    # angle apart (slider-crank geometry), plus or minus the splay of a split pin, and equally
    # all along the engine; opposed cylinders of a flat engine with a pin each come up
    # together. This ties the positions and the odd-fire angles to the firing orders.
    from_a_deg = {}
    for key, engine in library.items():
        if engine.layout[0] in "VF":
            (lead_deg,) = _bank_leads_deg(engine)  # one and the same all along the engine
            from_a_deg[key] = min(lead_deg, 360 - lead_deg)
    for key, apart_deg in from_a_deg.items():
        layout = library[key].layout
        if layout == "V8":
            assert apart_deg == 90, key
        if layout == "V6":
            # 60 degrees of vee and 60 of splay, or a pin each: evenly 120.
            assert apart_deg == 120, key
        if layout in ("F4", "F6"):
            assert apart_deg == 0, key
        if layout == "V10":
            assert apart_deg == 72, key
        if layout == "V12":
            assert apart_deg == 60, key
    assert from_a_deg["v6-odd-150-90-1-6-5-4-3-2"] == 90
    # 18 degrees of splay on a 90 degree vee (from memory).
    assert from_a_deg["v6-odd-132-108-1-6-5-4-3-2"] == 108
    assert from_a_deg["v10-odd-90-54-1-6-5-10-2-7-3-8-4-9"] == 90
    assert from_a_deg["v10-odd-54-90-1-10-9-4-3-6-5-8-7-2"] == 90
    assert from_a_deg["v2-45-1-2"] == 45


def test_even_eights_are_one_engine_numbered_two_ways(library):
    # A published comparison of V8 orders (fordfe.info/FiringOrder.html): on every one of the
    # common cross-plane engines two neighbours at one corner fire one after the other.
    for key in ("v8-1-8-4-3-6-5-7-2", "v8-1-5-4-2-6-3-7-8", "v8-1-3-7-2-6-5-4-8"):
        engine = library[key]
        sequence = engine.order.sequence
        follow = zip(sequence, (*sequence[1:], sequence[0]), strict=True)
        beside = [
            {engine.places[a].place, engine.places[b].place}
            for a, b in follow
            if b in engine.geometry.neighbours_of(a)
        ]
        assert {1, 2} in beside or {3, 4} in beside, key


def test_flat_and_alternating_numbering_stand_as_noted(library):
    eight = library["v8-1-8-4-3-6-5-7-2"]
    assert says_only(
        eight.place_of(5).words,
        "positions.text",
        bank="bank A",
        place=wording("positions.third-from-front"),
    )
    assert says(eight.numbering, "positions.from-front-odd-numbers")
    four = library["i4-1-3-4-2"]
    assert says_only(
        four.place_of(4).words,
        "positions.next-flywheel",
        place=wording("positions.fourth-from-front"),
    )
    assert "DIN 73021" in four.numbering
    assert "bank" not in four.numbering.lower()
    # A maker's service text counts the flat four that fires 1-4-3-2 from its flywheel end.
    flat = library["f4-1-4-3-2"]
    assert [(flat.place_of(c).bank, flat.place_of(c).place) for c in (1, 2, 3, 4)] == [
        ("A", 2),
        ("A", 1),
        ("B", 2),
        ("B", 1),
    ]
    assert "flywheel end" in flat.numbering
    # One head over both rows of the narrow-angle six: no banks, and 1 stands beside 2.
    narrow = library["narrow-6-1-5-3-6-2-4"]
    assert narrow.banks is None
    assert narrow.geometry.neighbours_of(2) == (1, 3)


def test_twins_fire_as_their_pins_make_them(library):
    assert library["i2-360-1-2"].order.intervals_deg == (360, 360)
    assert library["i2-180-540-1-2"].order.intervals_deg == (180, 540)


def test_loading_twice_changes_nothing(db):
    first = library_load()
    assert (first.created, first.updated, first.unchanged, first.retired) == (len(ROWS), 0, 0, 0)
    before = list(Engine.objects.order_by("pk").values())
    again = library_load()
    assert (again.created, again.updated, again.unchanged, again.retired) == (0, 0, len(ROWS), 0)
    assert list(Engine.objects.order_by("pk").values()) == before


def _library(tmp_path: Path, rows: list[dict[str, Any]]) -> Path:
    document = json.loads(LIBRARY_FILE.read_text(encoding="utf-8"))
    path = tmp_path / "library.json"
    path.write_text(json.dumps({**document, "engines": rows}), encoding="utf-8")
    return path


def test_a_changed_row_is_updated_and_a_missing_one_retired(library, tmp_path):
    changed = [{**row} for row in ROWS[1:]]
    changed[0]["source"] = "Cast into the cover."
    done = library_load(path=_library(tmp_path, changed))
    assert (done.created, done.updated, done.retired) == (0, 1, 1)
    gone = Engine.objects.get(key=ROWS[0]["key"])
    assert gone.retired
    assert gone.pk == library[gone.key].pk
    assert Engine.objects.get(key=changed[0]["key"]).source == "Cast into the cover."
    # Missing still: nothing more to retire. Back in the file: back in the list.
    assert library_load(path=_library(tmp_path, changed)).retired == 0
    assert library_load().updated == 2
    gone.refresh_from_db()
    assert not gone.retired


def test_a_shops_own_engine_is_never_touched(cast, tmp_path):
    library_load()
    source = Engine.objects.get(key="i4-1-3-4-2")
    own = engine_create(
        member=cast.diagnostician,
        given=EngineInput(
            name=source.name,
            layout=source.layout,
            order=source.order,
            places=source.places,
            numbering="ours",
            fuel="diesel",
            source="ours",
        ),
    )
    library_load(path=_library(tmp_path, []))
    before = (own.name, own.fuel, own.source, own.numbering, own.retired, own.version)
    own.refresh_from_db()
    assert before == (own.name, own.fuel, own.source, own.numbering, own.retired, own.version)
    assert Engine.objects.filter(shop=None, retired=False).count() == 0


def test_a_library_that_does_not_hold_together_changes_nothing(library, tmp_path):
    with pytest.raises(ValidationError, match="key “i4-1-3-4-2” twice"):
        library_load(path=_library(tmp_path, [FOUR, FOUR]))
    bad = {**FOUR, "key": "i4-new", "source": ""}
    with pytest.raises(ValidationError):
        library_load(path=_library(tmp_path, [bad]))
    assert Engine.objects.filter(retired=False).count() == len(ROWS)


def test_the_command_says_what_it_did(db, capsys):
    call_command("load_engines")
    assert capsys.readouterr().out == (
        f"Engine library: {len(ROWS)} added, 0 updated, 0 unchanged, 0 retired.\n"
    )
    call_command("load_engines", verbosity=0)
    assert capsys.readouterr().out == ""
