"""Rows made once for a file: what one test changes is gone in the next, in whatever order."""

from pathlib import Path

import pytest
from django.conf import settings
from django.core.files.base import ContentFile
from django.core.files.storage import default_storage

from shopdiag.people.models import Member, Shop
from tests.conftest import Cast, make_cast
from tests.shared_rows import Kept, kept_rows

FILE = "kept.txt"
_made: list[Cast] = []


def _make() -> Cast:
    default_storage.save(FILE, ContentFile(b"as it was made"))
    _made.append(make_cast())
    return _made[-1]


kept = kept_rows(_make)


@pytest.fixture
def cast(db: None, kept: Kept[Cast], settings, tmp_path: Path) -> Cast:
    settings.MEDIA_ROOT = tmp_path
    return kept.taken(tmp_path)


@pytest.mark.parametrize("again", [1, 2])
def test_each_test_begins_with_what_was_made(cast: Cast, again: int):
    assert len(_made) == 1
    assert Shop.objects.count() == 2
    assert Shop.objects.get(pk=cast.shop.pk).name == cast.shop.name == "Harbour Lane Garage"
    assert (Path(settings.MEDIA_ROOT) / FILE).read_bytes() == b"as it was made"
    cast.shop.name = "Renamed"
    cast.shop.save()
    Member.objects.filter(pk=cast.mechanic.pk).delete()
    (Path(settings.MEDIA_ROOT) / FILE).write_bytes(b"changed")
    assert Shop.objects.get(pk=cast.shop.pk).name == "Renamed"


def test_what_another_test_deleted_is_there_again(cast: Cast):
    assert Member.objects.filter(pk=cast.mechanic.pk).exists()
    assert cast.shop.name == _made[0].shop.name
