"""Removing a photo: who may, what is left of it, and that nothing brings it back."""

import io
from pathlib import Path
from uuid import uuid4

import pytest
from django.core.exceptions import ValidationError
from django.urls import reverse

from jobs.core.stages import Stage
from jobs.models import Photo, TimelineEvent, Visit
from jobs.services.notes import photo_add, photo_remove
from shopdiag.backups import backup_write
from shopdiag.people.core.roles import Role
from tests.jobs.views.test_notes_photos import picture

WHY = {"reason": "A customer is on it."}


@pytest.fixture
def photo(cast, visit):
    return photo_add(visit=visit, file=picture(), member=cast.mechanic, caption="Casey at the car")


def remove_address(photo):
    return reverse("jobs:photo-remove", args=[photo.pk])


def lines(visit):
    found = TimelineEvent.objects.filter(visit=visit, kind="photo").order_by("pk")
    return [(line.by and line.by.role, line.words) for line in found]


@pytest.mark.parametrize("role", [Role.MECHANIC, Role.OWNER])
def test_whoever_added_it_and_the_owner_remove_it(cast, client_for, visit, photo, role):
    browser = client_for(cast.insiders[role])
    path = Path(photo.image.path)
    assert path.exists()
    shown = reverse("jobs:visit", args=[visit.pk])
    assert remove_address(photo) in browser.get(shown).content.decode()
    answer = browser.post(remove_address(photo), WHY)
    assert (answer.status_code, answer.url) == (302, f"{shown}#photos")
    assert not path.exists()
    assert browser.get(reverse("jobs:photo", args=[photo.pk])).status_code == 404
    page = browser.get(shown).content.decode()
    assert reverse("jobs:photo", args=[photo.pk]) not in page
    whose = "" if role == Role.MECHANIC else f" of {cast.mechanic.name}"
    assert lines(visit)[-1] == (role, f"removed a photo{whose}: {WHY['reason']}")
    photo.refresh_from_db()
    assert (photo.image.name, photo.caption) == ("", "")
    # pressed twice, it is removed once
    assert browser.post(remove_address(photo), WHY).status_code == 302
    assert len(lines(visit)) == 2


@pytest.mark.parametrize("role", [Role.WRITER, Role.DIAGNOSTICIAN])
def test_nobody_else_removes_it(cast, client_for, visit, photo, role):
    browser = client_for(cast.insiders[role])
    assert (
        remove_address(photo)
        not in browser.get(reverse("jobs:visit", args=[visit.pk])).content.decode()
    )
    for answer in (browser.get(remove_address(photo)), browser.post(remove_address(photo), WHY)):
        assert answer.status_code == 403
    assert Path(photo.image.path).exists()
    with pytest.raises(ValidationError):
        photo_remove(photo=photo, member=cast.insiders[role], **WHY)


def test_another_shop_and_strangers_do_not_see_it(cast, client, client_for, photo):
    answer = client_for(cast.outsider).post(remove_address(photo), WHY)
    assert answer.status_code == 404
    assert client.post(remove_address(photo), WHY).status_code in {302, 403}
    assert Path(photo.image.path).exists()


def test_of_a_closed_job_only_the_owner_removes_it(cast, client_for, visit, photo):
    Visit.objects.filter(pk=visit.pk).update(stage=Stage.CLOSED)
    assert client_for(cast.mechanic).post(remove_address(photo), WHY).status_code == 403
    assert Path(photo.image.path).exists()
    assert client_for(cast.owner).post(remove_address(photo), WHY).status_code == 302
    assert not photo.image.storage.exists(photo.image.name)


@pytest.mark.parametrize("reason", ["", "   ", "x" * 201])
def test_without_a_reason_it_stays(cast, client_for, visit, photo, reason):
    answer = client_for(cast.mechanic).post(remove_address(photo), {"reason": reason})
    assert answer.status_code == 422
    assert Path(photo.image.path).exists()
    assert len(lines(visit)) == 1


def test_a_form_sent_again_does_not_bring_it_back(cast, client_for, visit):
    browser, address = client_for(cast.mechanic), reverse("jobs:photo-add", args=[visit.pk])
    token = str(uuid4())
    browser.post(address, {"form_token": token, "image": picture()})
    first = Photo.objects.get()
    photo_remove(photo=first, member=cast.mechanic, **WHY)
    answer = browser.post(address, {"form_token": token, "image": picture()})
    assert answer.status_code == 422
    assert not Photo.objects.standing().exists()
    # chosen anew, under a token of its own, it is a new one
    browser.post(address, {"form_token": str(uuid4()), "image": picture()})
    assert Photo.objects.standing().get() != first


@pytest.mark.django_db(transaction=True)  # a backup begins with its own view of the database
def test_a_backup_made_after_it_misses_nothing(cast, photo):
    photo_remove(photo=photo, member=cast.mechanic, **WHY)
    out = io.BytesIO()
    told = backup_write(out)
    assert told.lost == ()
    assert photo.image.name.encode() not in out.getvalue()


def test_where_the_file_cannot_be_deleted_nothing_is_recorded(cast, visit, photo, monkeypatch):
    def broken(*_):
        raise PermissionError("the disk is read-only")

    monkeypatch.setattr(photo.image.storage.__class__, "delete", broken)
    with pytest.raises(PermissionError):
        photo_remove(photo=photo, member=cast.mechanic, **WHY)
    assert Photo.objects.standing().filter(pk=photo.pk).exists()
    assert len(lines(visit)) == 1


def test_a_browser_asks_each_time_whether_it_is_still_there(cast, client_for, photo):
    browser, address = client_for(cast.mechanic), reverse("jobs:photo", args=[photo.pk])
    first = browser.get(address)
    assert b"".join(first.streaming_content)
    assert "no-cache" in first["Cache-Control"]
    again = browser.get(address, headers={"If-None-Match": first["ETag"]})
    assert again.status_code == 304
    photo_remove(photo=photo, member=cast.mechanic, **WHY)
    gone = browser.get(address, headers={"If-None-Match": first["ETag"]})
    assert gone.status_code == 404
