"""Writes and reads of engines."""

from typing import Any

import pytest
from django.core.exceptions import ValidationError

from engines import selectors
from engines.models import Engine
from engines.services import engine_change, engine_create, engine_retire
from shopdiag.people.services import SavedMeanwhileError
from tests.wording import says


def test_an_own_engine_knows_who_made_it(cast, given):
    engine = engine_create(
        member=cast.owner,
        given=given(
            "Old six", layout="V6-odd", order="1-6-5-4-3-2", angles="0,150,240,390,480,630"
        ),
    )
    stored = Engine.objects.get(pk=engine.pk)
    assert (stored.shop, stored.created_by, stored.key) == (cast.shop, cast.owner, None)
    assert stored.tdc_angles == [0, 150, 240, 390, 480, 630]
    assert list(stored.order.intervals_deg) == [150, 90] * 3
    assert stored.order == engine.order


def test_a_name_stands_once_in_a_shop_and_is_free_again_after_retiring(cast, given, own):
    with pytest.raises(ValidationError) as refused:
        engine_create(member=cast.owner, given=given())
    assert says(refused.value, "engines-models.your-shop-already-engine")
    # Another shop may use it.
    engine_create(member=cast.outsider, given=given())
    engine_retire(engine=own, member=cast.diagnostician)
    second = engine_create(member=cast.owner, given=given())
    with pytest.raises(ValidationError) as refused:
        engine_retire(engine=own, member=cast.diagnostician, retired=False)
    assert says(refused.value, "engines-models.your-shop-already-engine")
    engine_retire(engine=second, member=cast.owner)
    own.refresh_from_db()
    assert not engine_retire(engine=own, member=cast.owner, retired=False).retired


def test_a_name_taken_between_check_and_write_is_told_the_same(cast, given, own, monkeypatch):
    monkeypatch.setattr(Engine, "full_clean", lambda _engine: None)
    with pytest.raises(ValidationError) as refused:
        engine_create(member=cast.owner, given=given())
    assert says(refused.value, "engines-models.your-shop-already-engine")
    assert Engine.objects.count() == 1


def test_the_second_to_save_is_told(cast, given, own):
    first = Engine.objects.get(pk=own.pk)
    second = Engine.objects.get(pk=own.pk)
    engine_change(engine=first, expected_version=1, member=cast.owner, given=given(order="1-2-4-3"))
    with pytest.raises(SavedMeanwhileError) as raised:
        engine_change(
            engine=second, expected_version=1, member=cast.diagnostician, given=given("Mine")
        )
    assert isinstance(raised.value.current, Engine)
    assert raised.value.current.firing_order == "1-2-4-3"
    stored = Engine.objects.get(pk=own.pk)
    assert (stored.name, stored.version, stored.changed_by) == ("Yard four", 2, cast.owner)


def test_a_change_of_size_changes_the_count(cast, given, own):
    engine_change(
        engine=own,
        expected_version=1,
        member=cast.owner,
        given=given(layout="I5", order="1-2-4-5-3"),
    )
    assert Engine.objects.get(pk=own.pk).cylinders == 5


def test_the_library_and_other_shops_cannot_be_changed(cast, given, library, theirs):
    for engine in (library["i4-1-3-4-2"], theirs):
        before = Engine.objects.filter(pk=engine.pk).values().get()
        with pytest.raises(ValidationError) as refused:
            engine_change(
                engine=engine, expected_version=1, member=cast.owner, given=given("Taken")
            )
        assert says(refused.value, "engines-services.engine-library-cannot-changed")
        with pytest.raises(ValidationError) as refused:
            engine_retire(engine=engine, member=cast.owner)
        assert says(refused.value, "engines-services.engine-library-cannot-changed")
        assert Engine.objects.filter(pk=engine.pk).values().get() == before


def test_a_member_sees_the_library_and_the_own_shops(cast, library, own, theirs):
    seen = set(Engine.objects.seen_by(cast.mechanic).in_use())
    assert seen == {*library.values(), own}
    assert set(Engine.objects.seen_by(cast.outsider).in_use()) == {*library.values(), theirs}
    # One person in two shops sees each shop's own only while working there.
    assert own in Engine.objects.seen_by(cast.both_here).in_use()
    assert own not in Engine.objects.seen_by(cast.both_there).in_use()


def test_one_engine_is_read_within_what_is_seen(cast, library, own, theirs):
    assert Engine.objects.seen_by(cast.writer).get(pk=own.pk) == own
    assert not Engine.objects.seen_by(cast.writer).filter(pk=theirs.pk).exists()
    assert Engine.objects.kept_by(cast.owner).get(pk=own.pk) == own
    for other in (library["i4-1-3-4-2"], theirs):
        assert not Engine.objects.kept_by(cast.owner).filter(pk=other.pk).exists()


def test_retired_engines_leave_the_choice_but_can_still_be_read(cast, own):
    engine_retire(engine=own, member=cast.owner)
    assert own not in Engine.objects.seen_by(cast.owner).in_use()
    assert Engine.objects.seen_by(cast.owner).get(pk=own.pk).retired


def test_finding_by_words_order_and_count(cast, library, own, theirs):
    def keys(**asked: Any) -> list[str]:
        return [e.key or e.name for e in selectors.engines_found(cast.writer, **asked)]

    assert keys(text="yard") == ["Yard four"]
    assert keys(text="1-3-4-2") == ["Yard four", "i4-1-3-4-2"]
    assert keys(text="1,3,4,2") == ["Yard four", "i4-1-3-4-2"]
    assert keys(text="inline 1-3-4-2") == ["i4-1-3-4-2"]
    assert keys(text="mill") == []
    assert keys(cylinders=5) == ["i5-1-2-4-5-3"]
    assert keys(cylinders=10, text="odd 90/54") == ["v10-odd-90-54-1-6-5-10-2-7-3-8-4-9"]
    assert keys()[0] == "Yard four"
    assert len(keys()) == len(library) + 1


def test_retired_ones_show_on_demand_and_only_the_own_shops(cast, library, own, theirs):
    engine_retire(engine=own, member=cast.owner)
    engine_retire(engine=theirs, member=cast.outsider)
    assert own not in selectors.engines_found(cast.owner)
    found = selectors.engines_found(cast.owner, retired=True)
    assert own in found
    assert theirs not in found
