"""Pages of engines: who may, what they show, and that bad input keeps what was typed."""

import re
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from engines.models import Engine
from engines.services import engine_change, engine_create, engine_retire
from shopdiag.people.core.roles import Role
from tests.page_text import as_read
from tests.wording import says, says_only, wording

GOOD = {
    "name": "Bus six",
    "layout": "V6",
    "firing_order": "1-4-2-5-3-6",
    "tdc_angles": "",
    "numbering": "front",
    "bank_rows": "",
    "fuel": "diesel",
    "source": "Handbook page 12",
}
KEEPERS = {Role.OWNER, Role.DIAGNOSTICIAN}


def _html(response: Any) -> str:
    return as_read(response.content.decode())


@pytest.fixture
def keeper(cast, client_for):
    return client_for(cast.diagnostician)


def test_coils_are_kept_with_an_engine_and_stand_in_the_list(keeper):
    address = reverse("engines:new")
    bad = keeper.post(address, GOOD | {"coils": "single"})
    assert (bad.status_code, set(bad.context["form"].errors)) == (422, {"coils"})
    petrol = GOOD | {"fuel": "petrol", "coils": "pairs", "injection": "port"}
    assert keeper.post(address, petrol).status_code == 302
    made = Engine.objects.get(name="Bus six")
    assert (made.coils, made.injection) == ("pairs", "port")
    for page in (reverse("engines:list"), reverse("engines:detail", args=[made.pk])):
        assert "Pair coils" in _html(keeper.get(page))


# Who may


def test_strangers_are_sent_to_sign_in(client, own):
    for name, args in [
        ("list", []),
        ("new", []),
        ("detail", [own.pk]),
        ("edit", [own.pk]),
    ]:
        address = reverse(f"engines:{name}", args=args)
        response = client.get(address)
        assert response.status_code == 302
        assert response["Location"].endswith(f"?next={address}")
    assert client.post(reverse("engines:retire", args=[own.pk])).status_code == 302
    own.refresh_from_db()
    assert not own.retired


@pytest.mark.parametrize("role", list(Role))
def test_everybody_sees_and_only_keepers_write(cast, client_for, own, role):
    client = client_for(cast.insiders[role])
    for address in (reverse("engines:list"), reverse("engines:detail", args=[own.pk])):
        page = client.get(address)
        assert page.status_code == 200
        assert (reverse("engines:new") in _html(page)) == (role in KEEPERS)
    allowed = 200 if role in KEEPERS else 403
    assert client.get(reverse("engines:new")).status_code == allowed
    assert client.get(reverse("engines:edit", args=[own.pk])).status_code == allowed


@pytest.mark.parametrize("role", sorted(set(Role) - KEEPERS))
def test_a_wrong_role_writes_nothing(cast, client_for, own, role):
    client = client_for(cast.insiders[role])
    edited = {**GOOD, "version": "1"}
    assert client.post(reverse("engines:new"), GOOD).status_code == 403
    assert client.post(reverse("engines:edit", args=[own.pk]), edited).status_code == 403
    assert client.post(reverse("engines:retire", args=[own.pk])).status_code == 403
    own.refresh_from_db()
    assert (own.version, own.retired, Engine.objects.count()) == (1, False, 1)


def test_another_shops_engine_is_not_there(cast, client_for, own, theirs):
    client = client_for(cast.owner)
    assert theirs.name not in _html(client.get(reverse("engines:list")))
    for name in ("detail", "edit"):
        assert client.get(reverse(f"engines:{name}", args=[theirs.pk])).status_code == 404
    edited = {**GOOD, "version": "1"}
    assert client.post(reverse("engines:edit", args=[theirs.pk]), edited).status_code == 404
    assert client.post(reverse("engines:retire", args=[theirs.pk])).status_code == 404
    assert client.get(reverse("engines:new"), {"copy": theirs.pk}).status_code == 404
    theirs.refresh_from_db()
    assert (theirs.version, theirs.retired) == (1, False)


def test_the_library_is_not_the_shops_to_change(cast, client_for, library):
    client = client_for(cast.owner)
    pk = library["v8-1-8-4-3-6-5-7-2"].pk
    assert client.get(reverse("engines:edit", args=[pk])).status_code == 404
    assert client.post(reverse("engines:retire", args=[pk])).status_code == 404
    page = _html(client.get(reverse("engines:detail", args=[pk])))
    assert reverse("engines:edit", args=[pk]) not in page
    assert f"?copy={pk}" in page


@pytest.mark.parametrize("copy", ["x", "", "0", "9" * 30, "9" * 6000])
def test_a_copy_of_nothing_is_not_there(keeper, copy):
    assert keeper.get(reverse("engines:new"), {"copy": copy}).status_code == 404


def test_retiring_by_following_a_link_does_nothing(keeper, own):
    assert keeper.get(reverse("engines:retire", args=[own.pk])).status_code == 405


# The list


def test_the_list_narrows_by_words_and_count(keeper, library, own):
    page = _html(keeper.get(reverse("engines:list")))
    assert all(engine.name in page for engine in library.values())
    assert own.name in page
    page = _html(keeper.get(reverse("engines:list"), {"q": "inline", "cylinders": "5"}))
    assert "Inline five, 1-2-4-5-3" in page
    assert "Inline four" not in page
    assert 'value="inline"' in page


@pytest.mark.parametrize("asked", [{"q": "zeppelin"}, {"cylinders": "8", "q": "yard"}])
def test_an_empty_list_says_what_to_do(keeper, library, own, asked):
    page = _html(keeper.get(reverse("engines:list"), asked))
    assert says(page, "engines-list.no-engine-like")
    assert says(page, "engines-list.try-fewer-words-any")


@pytest.mark.parametrize("asked", [{"cylinders": "many"}, {"q": "\0"}, {"page": "x"}])
def test_a_broken_address_still_shows_the_list(keeper, library, asked):
    response = keeper.get(reverse("engines:list"), asked)
    assert response.status_code == 200
    assert "Inline four, 1-3-4-2" in _html(response)


def test_the_list_takes_as_many_queries_for_twice_the_rows(
    cast, keeper, given, library, django_assert_num_queries
):
    # Session, user, member, number of rows, rows.
    with django_assert_num_queries(6):
        keeper.get(reverse("engines:list"))
    for number in range(len(library)):
        engine_create(member=cast.owner, given=given(f"Ours {number}"))
    with django_assert_num_queries(6):
        keeper.get(reverse("engines:list"))


def test_a_long_list_comes_in_pages(cast, keeper, given):
    for number in range(101):
        engine_create(member=cast.owner, given=given(f"Ours {number:03d}"))
    page = _html(keeper.get(reverse("engines:list")))
    assert "Ours 099" in page
    assert "Ours 100" not in page
    assert "Ours 100" in _html(keeper.get(reverse("engines:list"), {"page": "2"}))


def test_names_are_never_markup(cast, keeper, given):
    engine = engine_create(
        member=cast.owner, given=given("<b>bold</b>", source='"><script>x</script>')
    )
    for address in (
        reverse("engines:list"),
        reverse("engines:detail", args=[engine.pk]),
        reverse("engines:edit", args=[engine.pk]),
    ):
        page = _html(keeper.get(address))
        assert "<b>bold" not in page
        assert "<script>x" not in page
        assert "&lt;b&gt;bold" in page


# One engine


def test_the_page_of_an_engine(keeper, library):
    engine = library["i4-1-3-4-2"]
    page = _html(keeper.get(reverse("engines:detail", args=[engine.pk])))
    assert "1-3-4-2" in page
    assert "even, every 180°" in page
    assert "1 and 4; 3 and 2." in page
    assert "Common practice; confirm" in page
    assert says(page, "positions.next-flywheel", place=wording("positions.fourth-from-front"))
    title = wording("drawing.seen-from-above", name="Inline four, 1-3-4-2")
    assert f'aria-label="{title}.' in page
    assert says(page, "positions.front-end-opposite-flywheel")
    assert not re.search(r"\sstyle=|<style|\son[a-z]+=", page)


def test_an_odd_fire_engine_shows_its_gaps(keeper, library):
    engine = library["v6-odd-150-90-1-6-5-4-3-2"]
    page = _html(keeper.get(reverse("engines:detail", args=[engine.pk])))
    angles = re.findall(r'data-label="Fires at">([^<]+)<', page)
    gaps = re.findall(r'data-label="To the next">([^<]+)<', page)
    assert angles == ["0°", "150°", "240°", "390°", "480°", "630°"]
    assert gaps == ["150°", "90°"] * 3
    assert says(page, "engines-detail.no-two-cylinders-engine")


# Adding


def test_adding_an_engine(cast, keeper):
    response = keeper.post(reverse("engines:new"), GOOD, follow=True)
    engine = Engine.objects.get()
    assert response.redirect_chain == [(reverse("engines:detail", args=[engine.pk]), 302)]
    assert says(_html(response), "engines-views.your-list-engines", engine="Bus six")
    assert (engine.shop, engine.created_by) == (cast.shop, cast.diagnostician)
    assert (engine.firing_order, engine.fuel, engine.cylinders) == ("1-4-2-5-3-6", "diesel", 6)
    assert says_only(
        engine.place_of(4).words,
        "positions.text",
        bank="bank B",
        place=wording("positions.first-from-front"),
    )


def test_adding_with_angles_and_typed_places(keeper):
    typed = {
        **GOOD,
        "layout": "V6-odd",
        "firing_order": "1 6 5 4 3 2",
        "tdc_angles": "0, 150, 240, 390, 480, 630",
        "numbering": "typed",
        "bank_rows": "A: 5 3 1\r\nB: 6 4 2",
    }
    assert keeper.post(reverse("engines:new"), typed).status_code == 302
    engine = Engine.objects.get()
    assert list(engine.order.intervals_deg) == [150, 90] * 3
    place = wording("positions.next-flywheel", place=wording("positions.third-from-front"))
    assert says_only(engine.place_of(1).words, "positions.text", bank="bank A", place=place)
    assert says(engine.numbering, "engines-forms.typed-shop-place-place")


@pytest.mark.parametrize(
    ("change", "field", "part"),
    [
        ({"firing_order": "1-4-2-5-3"}, "layout", "has 6 cylinders, but the firing order names 5"),
        ({"firing_order": "1-4-2-5-3-7"}, "firing_order", "Cylinder 6 is missing"),
        ({"firing_order": "1-4-2-5-3-3"}, "firing_order", "Cylinder 3 stands twice"),
        ({"firing_order": "backwards"}, "firing_order", "is not a firing order"),
        ({"firing_order": ""}, "firing_order", "Fill this in"),
        ({"tdc_angles": "0,150,100,390,480,630"}, "tdc_angles", "must rise"),
        ({"tdc_angles": "0,150,240,390,480,720"}, "tdc_angles", "fit in 720"),
        ({"tdc_angles": "0,150"}, "tdc_angles", "2 angles for 6 cylinders"),
        ({"layout": "V99"}, "layout", "is not in it"),
        ({"numbering": "typed"}, "bank_rows", "Cylinder 1 has no place yet"),
        ({"numbering": "typed", "bank_rows": "1 2 3 4 5 6"}, "bank_rows", "has banks A and B"),
        ({"layout": "other", "firing_order": "1-2-3"}, "numbering", "do not split evenly"),
        ({"name": ""}, "name", "Fill this in"),
        ({"source": "s" * 301}, "source", "at most 300 characters"),
    ],
)
def test_bad_input_is_told_at_its_field_and_kept(keeper, change, field, part):
    typed = {**GOOD, **change}
    response = keeper.post(reverse("engines:new"), typed)
    assert response.status_code == 422
    form = response.context["form"]
    assert part in " ".join(form.errors[field])
    assert set(form.errors) == {field}
    assert says(_html(response), "components.not-saved-yet-what")
    assert {name: form[name].value() for name in typed} == typed
    assert not Engine.objects.exists()


def test_a_second_press_does_not_make_a_second_engine(keeper):
    keeper.post(reverse("engines:new"), GOOD)
    response = keeper.post(reverse("engines:new"), GOOD)
    assert response.status_code == 422
    assert says(_html(response), "engines-models.your-shop-already-engine")
    assert Engine.objects.count() == 1


@pytest.mark.parametrize("key", ["v8-1-8-4-3-6-5-7-2", "v6-odd-132-108-1-6-5-4-3-2", "i4-1-3-4-2"])
def test_a_copy_of_the_library_saves_as_it_stands(keeper, library, key):
    source = library[key]
    form = keeper.get(reverse("engines:new"), {"copy": source.pk}).context["form"]
    shown = {name: form[name].value() for name in form.fields}
    assert keeper.post(reverse("engines:new"), shown).status_code == 302
    copy = Engine.objects.get(shop__isnull=False)
    assert copy.name == f"{source.name} (ours)"
    assert (copy.order, copy.places, copy.layout) == (source.order, source.places, source.layout)


# Changing


def _opened(client: Client, engine: Engine) -> dict[str, Any]:
    form = client.get(reverse("engines:edit", args=[engine.pk])).context["form"]
    return {name: form[name].value() for name in form.fields}


def test_changing_an_engine(keeper, own):
    typed = {**_opened(keeper, own), "firing_order": "1-2-4-3"}
    response = keeper.post(reverse("engines:edit", args=[own.pk]), typed)
    assert response.status_code == 302
    own.refresh_from_db()
    assert (own.firing_order, own.version) == ("1-2-4-3", 2)


def test_opening_and_saving_typed_places_changes_nothing(keeper):
    typed = {**GOOD, "numbering": "typed", "bank_rows": "A: 1 4 2\nB: 3 5 6"}
    keeper.post(reverse("engines:new"), typed)
    engine = Engine.objects.get()
    shown = _opened(keeper, engine)
    assert (shown["numbering"], shown["bank_rows"]) == ("typed", "A: 1 4 2\nB: 3 5 6")
    keeper.post(reverse("engines:edit", args=[engine.pk]), shown)
    assert Engine.objects.get().positions == engine.positions


def test_bad_changes_keep_the_row_and_the_typing(keeper, own):
    typed = {**_opened(keeper, own), "name": "Half done", "firing_order": "1-3-4"}
    response = keeper.post(reverse("engines:edit", args=[own.pk]), typed)
    assert response.status_code == 422
    assert response.context["form"]["name"].value() == "Half done"
    assert "Yard four" in _html(response)
    own.refresh_from_db()
    assert own.name == "Yard four"


def test_the_second_to_save_keeps_the_typing_and_saves_knowingly(cast, keeper, given, own):
    typed = {**_opened(keeper, own), "name": "Mine", "source": "My handbook"}
    # Meanwhile the owner renames it and corrects the order.
    theirs = given("Theirs", order="1-2-4-3")
    engine_change(
        engine=Engine.objects.get(pk=own.pk), expected_version=1, member=cast.owner, given=theirs
    )
    response = keeper.post(reverse("engines:edit", args=[own.pk]), typed)
    assert response.status_code == 409
    conflict = response.context["conflict"]
    assert conflict.by == cast.owner
    assert [(d.name, d.theirs, d.yours) for d in conflict.differences] == [
        ("name", "Theirs", "Mine"),
        ("source", theirs.source, "My handbook"),
    ]
    # The order was not touched here, so the other's stands.
    assert [(d.label, d.theirs) for d in conflict.taken_over] == [("Firing order", "1-2-4-3")]
    assert "Olive Owner" in _html(response)
    form = response.context["form"]
    again = {name: form[name].value() for name in form.fields}
    assert keeper.post(reverse("engines:edit", args=[own.pk]), again).status_code == 302
    own.refresh_from_db()
    assert (own.name, own.firing_order, own.source) == ("Mine", "1-2-4-3", "My handbook")
    assert own.version == 3


def test_retiring_and_bringing_back(keeper, own):
    address = reverse("engines:retire", args=[own.pk])
    response = keeper.post(address, follow=True)
    assert says(_html(response), "engines-detail.engine-retired-not-offered")
    assert own.name not in _html(keeper.get(reverse("engines:list")))
    assert own.name in _html(keeper.get(reverse("engines:list"), {"retired": "on"}))
    response = keeper.post(address, {"retired": "no"}, follow=True)
    assert not says(_html(response), "engines-detail.engine-retired-not-offered")
    own.refresh_from_db()
    assert not own.retired


def test_bringing_back_a_taken_name_says_so(cast, keeper, given, own):
    engine_retire(engine=own, member=cast.owner)
    engine_create(member=cast.owner, given=given())
    response = keeper.post(reverse("engines:retire", args=[own.pk]), {"retired": "no"}, follow=True)
    assert says(_html(response), "engines-models.your-shop-already-engine")
    own.refresh_from_db()
    assert own.retired


def test_the_filter_offers_only_numbers_that_an_engine_has(keeper):
    form = keeper.get(reverse("engines:list")).context["form"]
    offered = [count for count, _ in form.fields["cylinders"].choices if count]
    assert offered == sorted(set(Engine.objects.values_list("cylinders", flat=True)))
    assert 1 not in offered
