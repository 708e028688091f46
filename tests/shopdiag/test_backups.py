"""A backup comes back whole: the same rows, the same files, on this database and on another."""

import gzip
import hashlib
import io
import json
import shutil
import tarfile
from pathlib import Path

import pytest
from django.contrib.admin.models import CHANGE, LogEntry
from django.contrib.auth.models import Group, Permission
from django.contrib.contenttypes.models import ContentType
from django.core.management import CommandError, call_command
from django.test import Client
from django.urls import reverse

from jobs.models import Customer, TimelineEvent, Visit
from shopdiag.backups import BackupError, backup_read, backup_write
from shopdiag.people.models import Shop, User
from shopdiag.people.selectors import member_by_token
from shopdiag.people.services import token_create
from tests.conftest import PASSWORD
from tests.shopdiag.migrated import managed, migrated, outside

pytestmark = pytest.mark.django_db(transaction=True)


def _content(archive: bytes) -> tuple[dict, list, dict[str, bytes]]:
    """Return manifest, rows and files of a backup."""
    with tarfile.open(fileobj=io.BytesIO(archive)) as opened:
        parts = {entry.name: opened.extractfile(entry).read() for entry in opened}  # type: ignore[union-attr]
    manifest = json.loads(parts.pop("manifest.json"))
    listed = json.loads(parts.pop("end.json"))["files"]
    assert listed == {
        name: hashlib.sha256(content).hexdigest()
        for name, content in parts.items()
        if name != "rows.jsonl.gz"
    }
    lines = gzip.decompress(parts.pop("rows.jsonl.gz")).decode().splitlines()
    return manifest, [json.loads(line) for line in lines], parts


def _written() -> bytes:
    out = io.BytesIO()
    backup_write(out)
    return out.getvalue()


@pytest.fixture
def archive(furnished) -> bytes:
    """A backup of a shop with everything, and of what the administration keeps."""
    group = Group.objects.create(name="readers")
    group.permissions.add(Permission.objects.get(codename="view_shop"))
    furnished.cast.owner.user.groups.add(group)
    LogEntry.objects.create(
        user=furnished.cast.owner.user,
        content_type=ContentType.objects.get_for_model(Shop),
        object_id="1",
        object_repr="x",
        action_flag=CHANGE,
    )
    return _written()


@pytest.fixture
def emptied(archive: bytes, settings, tmp_path) -> bytes:
    """The backup, after everything it was made of is gone."""
    call_command("flush", interactive=False, verbosity=0)
    assert not Shop.objects.exists()
    settings.MEDIA_ROOT = tmp_path / "new"
    return archive


def test_all_comes_back(emptied, settings):
    manifest, rows, files = _content(emptied)
    told = backup_read(io.BytesIO(emptied))
    assert (told.rows, told.files, told.lost) == (len(rows), len(files), ())
    again_manifest, again_rows, again_files = _content(_written())
    assert again_rows == rows
    assert again_files == files
    assert again_manifest["rows"] == manifest["rows"]
    # It was worth something: each of these tables held rows.
    for label in (
        "people.apitoken",
        "traces.run",
        "jobs.timelineevent",
        "jobs.photo",
        "auth.group",
    ):
        assert manifest["rows"][label] > 0
    kept = {
        path.relative_to(settings.MEDIA_ROOT).as_posix(): path.read_bytes()
        for path in settings.MEDIA_ROOT.rglob("*")
        if path.is_file()
    }
    assert {f"files/{name}": content for name, content in kept.items()} == files
    assert len(kept) >= 3


def test_work_goes_on_after_it(emptied):
    backup_read(io.BytesIO(emptied))
    client = Client()
    client.post(reverse("people:sign-in"), {"username": "diag", "password": PASSWORD})
    visit = Visit.objects.get()
    assert client.get(reverse("jobs:visit", args=[visit.pk])).status_code == 200
    sent = {"text": "Back again.", "form_token": ""}
    address = reverse("jobs:note-add", args=[visit.pk])
    sent["form_token"] = str(client.get(address).context["form"]["form_token"].value())
    assert client.post(address, sent).status_code == 302
    # Numbers go on after the highest that came back.
    before = set(Customer.objects.values_list("pk", flat=True))
    made = Customer.objects.create(shop=visit.shop, name="New")
    assert made.pk not in before
    # What the database guards is guarded still.
    line = TimelineEvent.objects.first()
    assert line is not None
    with pytest.raises(Exception, match="added and never changed"):
        TimelineEvent.objects.filter(pk=line.pk).update(words="x")


def test_tokens_come_back_and_sessions_do_not(furnished, client_for, settings, tmp_path):
    _, key = token_create(member=furnished.cast.owner, label="bench")
    client = Client()
    client.force_login(
        furnished.cast.owner.user, backend="django.contrib.auth.backends.ModelBackend"
    )
    archive = _written()
    call_command("flush", interactive=False, verbosity=0)
    settings.MEDIA_ROOT = tmp_path / "new"
    backup_read(io.BytesIO(archive))
    token = member_by_token(key)
    assert token is not None
    assert token.member.role == "owner"
    assert client.get(reverse("people:team")).status_code == 302


def test_a_new_machine_on_sqlite_takes_it_over(archive, tmp_path):
    """From whatever database this test runs on; the engine library is there already."""
    home = tmp_path / "machine"
    shutil.copytree(migrated(), home)
    # Over standard input and output, as in a container.
    done = managed([["restore", "-"]], outside(home), given=archive)
    assert done.returncode == 0, done.stderr
    assert b"files are back" in done.stdout
    # A second time there is somebody's work in the way.
    again = managed([["backup", "-"], ["restore", "-"]], outside(home), given=archive)
    assert _content(again.stdout)[1:] == _content(archive)[1:]
    assert again.returncode == 1
    assert b"There are people on this installation already" in again.stderr
    assert b"Traceback" not in again.stderr


def test_the_commands_write_and_read_a_file_for_its_owner_only(furnished, settings, tmp_path):
    path = tmp_path / "shop.tar"
    call_command("backup", str(path), stderr=io.StringIO())
    assert path.stat().st_mode & 0o777 == 0o600
    assert [p.name for p in tmp_path.glob("*.tar*")] == ["shop.tar"]
    with pytest.raises(CommandError, match="exists already"):
        call_command("backup", str(path))
    with pytest.raises(CommandError, match="There is no file"):
        call_command("restore", str(tmp_path / "other.tar"))
    call_command("flush", interactive=False, verbosity=0)
    with pytest.raises(CommandError, match=r"files in .* already"):
        call_command("restore", str(path))
    settings.MEDIA_ROOT = tmp_path / "new"
    out = io.StringIO()
    call_command("restore", str(path), stdout=out)
    assert "files are back" in out.getvalue()
    assert User.objects.filter(username="mech").exists()


def test_a_file_that_is_gone_is_told(furnished, settings):
    Path(furnished.photo.image.path).unlink()
    told = backup_write(io.BytesIO())
    assert told.lost == (furnished.photo.image.name,)


def _altered(archive: bytes, change) -> bytes:
    """Return the backup with its parts changed by `change(name, content)`; None drops one."""
    out = io.BytesIO()
    with (
        tarfile.open(fileobj=io.BytesIO(archive)) as old,
        tarfile.open(fileobj=out, mode="w") as new,
    ):
        for entry in old:
            found = change(entry.name, old.extractfile(entry).read())  # type: ignore[union-attr]
            if found is not None:
                name, content = found
                entry.name, entry.size = name, len(content)
                new.addfile(entry, io.BytesIO(content))
    return out.getvalue()


def _other_version(name, content):
    if name == "manifest.json":
        content = content.replace(b"people.0001_squashed", b"people.0002_other")
    return name, content


def _migrations_that_are_none(name, content):
    if name == "manifest.json":
        content = json.dumps(json.loads(content) | {"migrations": [1]}).encode()
    return name, content


def _migrations_kept(keep):
    """Return a change that keeps only some of the migrations in the manifest."""

    def change(name, content):
        if name == "manifest.json":
            manifest = json.loads(content)
            manifest["migrations"] = [m for m in manifest["migrations"] if keep(m)]
            content = json.dumps(manifest).encode()
        return name, content

    return change


def test_a_backup_of_the_version_before_comes_back(emptied):
    """Its manifest names the older migrations, which lead to the same tables."""
    of_before = _migrations_kept(lambda m: not m.endswith(".0001_squashed"))
    older = _altered(emptied, of_before)
    manifest, rows, _ = _content(older)
    gone = set(_content(emptied)[0]["migrations"]) - set(manifest["migrations"])
    assert gone == {f"{app}.0001_squashed" for app in ("people", "engines", "traces", "jobs")}
    assert backup_read(io.BytesIO(older)).rows == len(rows)


@pytest.mark.parametrize("lacking", ["jobs.0021_tests_beyond_compression", "traces.0008_uploads"])
def test_a_backup_that_lacks_an_older_step_is_refused(emptied, lacking):
    newer = lambda m: m != lacking and not m.endswith(".0001_squashed")  # noqa: E731
    with pytest.raises(BackupError, match="other tables"):
        backup_read(io.BytesIO(_altered(emptied, _migrations_kept(newer))))
    assert not User.objects.exists()


def _damaged_rows(name, content):
    if name == "rows.jsonl.gz":
        content = gzip.compress(gzip.decompress(content).replace(b"Harbour", b"Harbor"))
    return name, content


def _damaged_photo(name, content):
    if name.startswith("files/photos"):
        content = content[:-1] + bytes([content[-1] ^ 1])
    return name, content


def _outside(name, content):
    return ("files/../../evil.csv" if name.startswith("files/captures") else name), content


BROKEN = [
    (_other_version, r"made by version .* with other tables"),
    (_damaged_rows, "rows are damaged"),
    (_damaged_photo, "is damaged"),
    (_outside, "no file of a shop"),
    (lambda n, c: (f"files//etc/{n}" if n.startswith("files/") else n, c), "damaged|no file"),
    (lambda n, c: (n, b"[]") if n == "end.json" else (n, c), "list of files cannot be read"),
    (lambda n, c: None if n == "rows.jsonl.gz" else (n, c), "holds no rows"),
    (lambda n, c: None if n == "end.json" else (n, c), "broke off before its end"),
    (lambda n, c: None if n.startswith("files/photos") else (n, c), "other files than its list"),
    (lambda n, c: None if n == "manifest.json" else (n, c), "not a backup of this program"),
    (lambda n, c: (n, b"{") if n == "manifest.json" else (n, c), "manifest cannot be read"),
    (_migrations_that_are_none, "manifest cannot be read"),
]


def test_what_is_no_whole_backup_changes_nothing(emptied, settings):
    broken = [(_altered(emptied, change), sentence) for change, sentence in BROKEN]
    broken += [(emptied[: int(len(emptied) * share)], "backup") for share in (0.0, 0.3, 0.9)]
    for archive, sentence in broken:
        with pytest.raises(BackupError, match=sentence):
            backup_read(io.BytesIO(archive))
        assert not User.objects.exists(), sentence
        assert not any(settings.MEDIA_ROOT.parent.rglob("evil.csv")), sentence
        assert not settings.MEDIA_ROOT.exists() or not any(settings.MEDIA_ROOT.iterdir())
    # None of that is in the way of the whole one.
    assert backup_read(io.BytesIO(emptied)).rows > 0


def test_a_link_in_it_is_refused(emptied, settings):
    out = io.BytesIO()
    with (
        tarfile.open(fileobj=io.BytesIO(emptied)) as old,
        tarfile.open(fileobj=out, mode="w") as new,
    ):
        for entry in old:
            if entry.name == "end.json":
                link = tarfile.TarInfo("files/link")
                link.type, link.linkname = tarfile.SYMTYPE, "/etc/passwd"
                new.addfile(link)
            new.addfile(entry, old.extractfile(entry))
    with pytest.raises(BackupError, match="no file of a shop"):
        backup_read(io.BytesIO(out.getvalue()))
    assert not User.objects.exists()
