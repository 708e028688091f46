"""Rows laid under the tests of many files: each begins with what it asks for and nothing else."""

from pathlib import Path

import pytest
from django.conf import settings
from django.core.files.base import ContentFile
from django.core.files.storage import default_storage

from shopdiag.people.models import Member, Shop
from tests.conftest import Cast
from tests.row_layers import layer

FILE = "laid.txt"
_made: list[str] = []


@layer
def shop_below(cast: Cast) -> Shop:
    """A shop with a file."""
    _made.append("shop_below")
    default_storage.save(FILE, ContentFile(b"as it was made"))
    return Shop.objects.create(name="Below")


@layer
def shop_above(cast: Cast, shop_below: Shop) -> Shop:
    """A shop above the other, which it changes."""
    _made.append("shop_above")
    shop_below.name = "Built upon"
    shop_below.save()
    return Shop.objects.create(name="Above")


@pytest.fixture(autouse=True)
def media(settings, tmp_path: Path) -> None:
    settings.MEDIA_ROOT = tmp_path / "files"


@pytest.mark.parametrize("again", [1, 2])
def test_each_test_begins_with_what_was_made(shop_below: Shop, cast: Cast, again: int):
    assert _made == ["shop_below"]
    assert Shop.objects.get(pk=shop_below.pk).name == shop_below.name == "Below"
    assert (Path(settings.MEDIA_ROOT) / FILE).read_bytes() == b"as it was made"
    shop_below.name = "Renamed"
    shop_below.save()
    Member.objects.filter(pk=cast.mechanic.pk).delete()
    (Path(settings.MEDIA_ROOT) / FILE).write_bytes(b"changed")
    assert Shop.objects.get(pk=shop_below.pk).name == "Renamed"


@pytest.mark.parametrize("again", [1, 2])
def test_what_lies_above_is_there_only_for_whom_asks(shop_above: Shop, shop_below: Shop, again):
    assert _made == ["shop_below", "shop_above"]
    assert shop_below.name == Shop.objects.get(pk=shop_below.pk).name == "Built upon"
    assert Shop.objects.filter(name="Above").exists()
    assert Member.objects.filter(user__username="mech").exists()
    assert (Path(settings.MEDIA_ROOT) / FILE).read_bytes() == b"as it was made"
    shop_above.delete()


def test_a_test_that_asks_for_less_finds_less(cast: Cast):
    assert Shop.objects.count() == 2


@pytest.mark.django_db(transaction=True)
def test_where_rows_are_committed_they_are_made_anew(shop_above: Shop):
    assert _made[-2:] == ["shop_below", "shop_above"]
    assert Shop.objects.filter(name__in=["Above", "Built upon"]).count() == 2
    assert (Path(settings.MEDIA_ROOT) / FILE).read_bytes() == b"as it was made"


class TestAnotherBelow:
    """What lies on a fixture that a class replaced is made from that."""

    @pytest.fixture
    def shop_below(self, cast: Cast) -> Shop:
        assert cast.shop.pk
        return Shop.objects.create(name="Of the class")

    @pytest.mark.usefixtures("shop_above")
    def test_it_is_made_from_the_other(self, shop_below: Shop):
        assert _made.pop() == "shop_above"
        assert shop_below.name == "Built upon"
        assert Shop.objects.count() == 4
