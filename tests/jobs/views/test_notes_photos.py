"""Notes and photos."""

from io import BytesIO
from unittest.mock import Mock
from uuid import uuid4

import pytest
from django.core.exceptions import ValidationError
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse
from PIL import Image

from jobs.core.stages import Stage
from jobs.models import Note, Photo
from jobs.models.timeline import AppendOnlyError
from jobs.services.notes import photo_add
from tests.wording import says


def at(name, visit):
    return reverse(f"jobs:{name}", args=[visit.pk])


def picture(kind="JPEG", **options):
    out = BytesIO()
    Image.new("RGB", (60, 40), "red").save(out, kind, **options)
    return SimpleUploadedFile("../../etc/passwd.svg", out.getvalue(), "text/html")


def test_everybody_adds_notes_and_a_note_sent_twice_is_one(cast, client_for, visit):
    for member in cast.insiders.values():
        sent = {"form_token": str(uuid4()), "text": f"seen by {member.name}"}
        for _ in range(2):
            response = client_for(member).post(at("note-add", visit), sent)
            assert response.status_code == 302
    assert list(Note.objects.values_list("text", flat=True)) == [
        f"seen by {m.name}" for m in cast.insiders.values()
    ]
    assert [e.kind for e in visit.events.all()].count("note") == 4
    assert "seen by Mika Mech" in client_for(cast.writer).get(at("visit", visit)).content.decode()


@pytest.mark.parametrize("text", ["", "   ", "x" * 4001])
def test_a_note_that_cannot_be_kept_is_told(cast, client_for, visit, text):
    page = client_for(cast.mechanic).post(
        at("note-add", visit), {"form_token": str(uuid4()), "text": text}
    )
    assert page.status_code == 422
    assert text.strip() in page.content.decode()
    assert not Note.objects.exists()


def test_a_photo_is_kept_anew_and_sent_to_whoever_may_see_the_job(cast, client_for, visit):
    client = client_for(cast.mechanic)
    exif = Image.Exif()
    exif[0x010F] = "Somebody's phone"
    token = str(uuid4())
    for _ in range(2):
        sent = {"form_token": token, "image": picture(exif=exif), "caption": "Plug of cylinder 2"}
        response = client.post(at("photo-add", visit), sent)
        assert response.status_code == 302, response.context["form"].errors
    photo = Photo.objects.get()
    assert str(photo.image.name).startswith(f"photos/{cast.shop.pk}/")
    assert str(photo.image.name).endswith(".jpg")
    response = client_for(cast.writer).get(reverse("jobs:photo", args=[photo.pk]))
    content = b"".join(response.streaming_content)
    assert response["Content-Type"] == "image/jpeg"
    assert response["X-Content-Type-Options"] == "nosniff"
    assert response["Cache-Control"].startswith("private")
    assert b"Somebody" not in content
    assert Image.open(BytesIO(content)).size == (60, 40)
    page = client.get(at("visit", visit)).content.decode()
    assert "Plug of cylinder 2" in page
    assert says(page, "notes.added-photo", shows=" (Plug of cylinder 2)")
    assert client_for(cast.outsider).get(reverse("jobs:photo", args=[photo.pk])).status_code == 404


@pytest.mark.parametrize(
    "sent",
    [
        ("notes.txt", b"hello", "not a picture that can be read"),
        ("evil.svg", b"<svg onload='alert(1)'/>", "not a picture that can be read"),
        ("page.jpg", b"<html><script>alert(1)</script>", "not a picture that can be read"),
        ("cut.jpg", b"\xff\xd8\xff\xe0\x00\x10JFIF", "not a picture that can be read"),
        ("empty.jpg", b"", "This file is empty"),
    ],
)
def test_a_file_that_is_no_picture_is_told(cast, client_for, visit, sent):
    name, content, sentence = sent
    page = client_for(cast.mechanic).post(
        at("photo-add", visit),
        {
            "form_token": str(uuid4()),
            "image": SimpleUploadedFile(name, content, "image/jpeg"),
            "caption": "what I wrote",
        },
    )
    assert page.status_code == 422
    assert sentence in page.content.decode()
    assert "what I wrote" in page.content.decode()
    assert not Photo.objects.exists()


def test_a_photo_over_the_limit_is_told(cast, client_for, visit, settings):
    settings.PHOTO_LIMIT_MB = 0
    page = client_for(cast.mechanic).post(
        at("photo-add", visit), {"form_token": str(uuid4()), "image": picture()}
    )
    assert says(page.content.decode(), "notes.picture-send-one-most", photo_limit_mb=0)


def test_no_photo_chosen_is_told(cast, client_for, visit):
    page = client_for(cast.mechanic).post(at("photo-add", visit), {"form_token": str(uuid4())})
    assert says(page.content.decode(), "notes.choose-picture-first")


def test_a_timeline_line_is_neither_changed_nor_removed_by_code(visit):
    event = visit.events.first()
    event.words = "something else"
    with pytest.raises(AppendOnlyError):
        event.save()
    with pytest.raises(AppendOnlyError):
        event.delete()


def test_a_photo_that_cannot_be_recorded_leaves_no_file(
    cast, visit, settings, tmp_path, monkeypatch
):
    settings.MEDIA_ROOT = tmp_path

    def broken(**_):
        raise RuntimeError("the database went away")

    monkeypatch.setattr("jobs.services.notes.event_add", broken)
    with pytest.raises(RuntimeError, match="went away"):
        photo_add(visit=visit, file=picture(), member=cast.mechanic)
    assert not Photo.objects.exists()
    assert [path for path in tmp_path.rglob("*") if path.is_file()] == []


def test_a_closed_job_refuses_a_photo_before_it_is_decoded(cast, visit, monkeypatch):
    decoded = Mock()
    monkeypatch.setattr("jobs.services.notes.photo_clean", decoded)
    visit.stage = Stage.CLOSED
    visit.save(update_fields=["stage"])
    with pytest.raises(ValidationError):
        photo_add(visit=visit, file=picture(), member=cast.mechanic)
    decoded.assert_not_called()
