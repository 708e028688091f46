"""The whole installation in one file, and back again, whichever database it stands on.

A backup is a tar archive: `manifest.json` says what is in it, `rows.jsonl.gz` holds one row a
line as Django's serializers write them, `files/` the uploads as they lie in MEDIA_ROOT, and
`end.json` the SHA-256 of each, so that a copy that broke off or was damaged is known. Sessions,
lockouts and the secret key stay out: people sign in anew.
"""

import datetime as dt
import gzip
import hashlib
import io
import json
import os
import shutil
import tarfile
import tempfile
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path, PurePosixPath
from typing import IO, Any, cast

from django.apps import apps
from django.conf import settings
from django.core import serializers
from django.core.management.color import no_style
from django.core.serializers.base import DeserializationError
from django.core.serializers.json import DjangoJSONEncoder
from django.db import IntegrityError, connection, models, transaction
from django.db.migrations.recorder import MigrationRecorder
from django.utils import timezone

from shopdiag.older_migrations import under_new_names
from traces.uploads.files import uploads_folder

FORMAT = 2
_MANIFEST, _ROWS, _FILES, _END = "manifest.json", "rows.jsonl.gz", "files", "end.json"
_MANIFEST_LIMIT_BYTES = 1_000_000
# Made anew by migrating, or worth nothing elsewhere.
_LEFT_OUT = {
    "contenttypes.contenttype",
    "auth.permission",
    "sessions.session",
    "traces.upload",
    "traces.workerbeat",
}
_LEFT_OUT_APPS = {"axes"}
# Rows that name permissions or kinds of rows, whose numbers differ between databases.
_BY_NAME = {"admin.logentry", "auth.group", "people.user"}


class BackupError(Exception):
    """A backup cannot be made or taken back; the words say why and what to do."""


@dataclass(frozen=True, slots=True)
class Told:
    """What a backup holds.

    Parameters
    ----------
    rows, files
        How many.
    lost
        Names of files that rows speak of and that are not there.
    """

    rows: int
    files: int
    lost: tuple[str, ...]


class _Encoder(DjangoJSONEncoder):
    """Keeps microseconds, which Django's own cuts off."""

    def default(self, o: Any) -> Any:  # noqa: ANN401 - any field's value
        if isinstance(o, dt.datetime | dt.time):
            return o.isoformat()
        return super().default(o)


def backup_write(out: IO[bytes]) -> Told:
    """Write rows and files to `out`, which need not be seekable.

    Rows are read in one snapshot, before the files: uploads that come in meanwhile may be
    in the archive without a row, never the other way round.
    """
    with tempfile.TemporaryFile() as rows, tarfile.open(fileobj=out, mode="w|") as archive:
        counts = _rows_write(rows)
        size = rows.tell()
        manifest = {
            "format": FORMAT,
            "version": settings.VERSION,
            "made_at": timezone.now().isoformat(),
            "migrations": _migrations(),
            "rows": counts,
            "rows_sha256": _sha256(rows),
        }
        _add(archive, _MANIFEST, io.BytesIO(json.dumps(manifest, indent=1).encode()))
        _add(archive, _ROWS, rows, size)
        digests = {
            name: digest
            for path, name in _stored_files()
            if (digest := _add_file(archive, path, name)) is not None
        }
        _add(archive, _END, io.BytesIO(json.dumps({"files": digests}).encode()))
    return Told(sum(counts.values()), len(digests), _lost())


def backup_read(source: IO[bytes]) -> Told:
    """Take a backup back into an empty installation; all of it, or nothing.

    Raises
    ------
    BackupError
        If this is no whole backup, if it was made by another state of the program, or if
        there are people or uploads here already.
    """
    media = Path(settings.MEDIA_ROOT)
    _refuse_if_in_use(media)
    try:
        with tarfile.open(fileobj=source, mode="r|") as archive, transaction.atomic():
            entries = iter(archive)
            manifest = _manifest_of(archive, entries)
            counts = _rows_read(archive, entries, manifest)
            files = _files_read(archive, entries, media)
    except (tarfile.TarError, EOFError, gzip.BadGzipFile, OSError, ValueError) as error:
        _empty(media)
        raise BackupError(
            f"This is not a whole backup ({error}); use another copy. Nothing was changed."
        ) from error
    except BaseException:
        _empty(media)
        raise
    return Told(sum(counts.values()), files, _lost())


def _models() -> list[type[models.Model]]:
    """Return what is kept, rows that others point at first where that is possible."""
    kept = [
        (config, None)
        for config in apps.get_app_configs()
        if config.label not in _LEFT_OUT_APPS and config.models_module
    ]
    return [
        model
        for model in serializers.sort_dependencies(kept)
        if model._meta.label_lower not in _LEFT_OUT  # noqa: SLF001 - Django's documented API
    ]


def _migrations() -> list[str]:
    return sorted(".".join(step) for step in MigrationRecorder(connection).applied_migrations())


def _same_tables(migrations: list[str]) -> bool:
    """Return whether a backup's migrations lead to these tables, under older names or new ones."""
    steps: list[tuple[str, str]] = []
    for name in migrations:
        app, _, step = name.partition(".")
        steps.append((app, step))
    here = set(MigrationRecorder(connection).applied_migrations())
    return under_new_names(set(steps)) == under_new_names(here)


def _rows_write(out: IO[bytes]) -> dict[str, int]:
    counts = {}
    with transaction.atomic(), gzip.open(out, "wt", encoding="utf-8", compresslevel=6) as text:
        if connection.vendor == "postgresql":
            with connection.cursor() as cursor:
                cursor.execute("SET TRANSACTION ISOLATION LEVEL REPEATABLE READ")
        for model in _models():
            label = model._meta.label_lower  # noqa: SLF001
            counter = _Counter(text)
            serializers.serialize(
                "jsonl",
                model._base_manager.order_by("pk").iterator(),  # noqa: SLF001
                stream=counter,
                cls=_Encoder,
                use_natural_foreign_keys=label in _BY_NAME,
            )
            counts[label] = counter.lines
    return counts


class _Counter:
    """Writes through, and counts lines."""

    def __init__(self, text: Any) -> None:  # noqa: ANN401 - a text file of gzip's
        self._text = text
        self.lines = 0

    def write(self, text: str) -> int:
        self.lines += text.count("\n")
        written: int = self._text.write(text)
        return written


def _manifest_of(archive: tarfile.TarFile, entries: Iterator[tarfile.TarInfo]) -> dict[str, Any]:
    entry = next(entries, None)
    if entry is None or entry.name != _MANIFEST or entry.size > _MANIFEST_LIMIT_BYTES:
        raise BackupError("This is not a backup of this program; use a file that `backup` wrote.")
    try:
        manifest = json.loads(_opened(archive, entry).read())
        form, version = manifest["format"], manifest["version"]
        migrations = manifest["migrations"]
        same_tables = form == FORMAT and _same_tables(migrations)
    except (ValueError, KeyError, TypeError, AttributeError):
        raise BackupError("The backup's manifest cannot be read; use another copy.") from None
    if not same_tables:
        raise BackupError(
            f"This backup was made by version {version} with other tables than these; restore "
            "it with that version, then bring that one up to date and migrate."
        )
    found: dict[str, Any] = manifest
    return found


def _rows_read(
    archive: tarfile.TarFile, entries: Iterator[tarfile.TarInfo], manifest: dict[str, Any]
) -> dict[str, int]:
    entry = next(entries, None)
    if entry is None or entry.name != _ROWS:
        raise BackupError("The backup holds no rows; use another copy.")
    with tempfile.TemporaryFile() as rows:
        shutil.copyfileobj(_opened(archive, entry), rows)
        if _sha256(rows) != manifest["rows_sha256"]:
            raise BackupError("The backup's rows are damaged; use another copy.")
        kept = _models()
        with connection.constraint_checks_disabled():
            for model in reversed(kept):
                # The library that comes with the program is in the backup as well.
                model._base_manager.all()._raw_delete(connection.alias)  # noqa: SLF001
            counts = dict.fromkeys((model._meta.label_lower for model in kept), 0)  # noqa: SLF001
            with gzip.open(rows, "rt", encoding="utf-8") as text:
                try:
                    for row in serializers.deserialize("jsonl", text):
                        row.save(force_insert=True)
                        counts[row.object._meta.label_lower] += 1  # noqa: SLF001
                except (DeserializationError, KeyError) as error:
                    raise BackupError(f"A row of the backup cannot be read: {error}.") from error
        try:
            connection.check_constraints()
        except IntegrityError as error:
            raise BackupError(f"The backup's rows do not fit together: {error}.") from error
    if counts != manifest["rows"]:
        raise BackupError("The backup holds other rows than its manifest says; use another copy.")
    with connection.cursor() as cursor:
        for statement in connection.ops.sequence_reset_sql(no_style(), kept):
            cursor.execute(statement)
    return counts


def _stored_files() -> Iterator[tuple[Path, str]]:
    root = Path(settings.MEDIA_ROOT)
    for folder, _, names in sorted(os.walk(root)):
        if Path(folder) == uploads_folder():
            # Half of a file is of use to nobody; its sender begins anew.
            continue
        for name in sorted(names):
            path = Path(folder) / name
            if path.is_file() and not path.is_symlink():
                yield path, f"{_FILES}/{path.relative_to(root).as_posix()}"


def _add_file(archive: tarfile.TarFile, path: Path, name: str) -> str | None:
    """Put a file in and return its SHA-256; None where it was removed since it was listed."""
    try:
        with path.open("rb") as file:
            read = _Digested(file)
            _add(archive, name, cast("IO[bytes]", read), os.fstat(file.fileno()).st_size)
    except FileNotFoundError:
        return None
    return read.sha256.hexdigest()


class _Digested(io.RawIOBase):
    """A file that is digested as it is read, so that the digest is of what was written."""

    def __init__(self, file: IO[bytes]) -> None:
        self._file = file
        self.sha256 = hashlib.sha256()

    def read(self, size: int = -1, /) -> bytes:
        data = self._file.read(size)
        self.sha256.update(data)
        return data

    def seek(self, offset: int, whence: int = 0, /) -> int:
        self.sha256 = hashlib.sha256()
        return self._file.seek(offset, whence)


def _add(archive: tarfile.TarFile, name: str, file: IO[bytes], size: int | None = None) -> None:
    entry = tarfile.TarInfo(name)
    entry.size = len(file.read()) if size is None else size
    entry.mtime = int(timezone.now().timestamp())
    entry.mode = 0o600
    file.seek(0)
    archive.addfile(entry, file)


def _files_read(archive: tarfile.TarFile, entries: Iterator[tarfile.TarInfo], media: Path) -> int:
    digests: dict[str, str] = {}
    for entry in entries:
        if entry.name == _END:
            _check_files(json.loads(_opened(archive, entry).read()), digests)
            return len(digests)
        digests[entry.name] = _file_read(archive, entry, media)
    raise BackupError("The backup broke off before its end; use another copy.")


def _check_files(end: Any, digests: dict[str, str]) -> None:  # noqa: ANN401 - JSON as it came
    """Hold the files that were put back against the list at the backup's end."""
    listed = end.get("files") if isinstance(end, dict) else None
    if not isinstance(listed, dict):
        raise BackupError("The backup's list of files cannot be read; use another copy.")
    for name, digest in digests.items():
        if listed.get(name) != digest:
            raise BackupError(f"The file “{name[:80]}” is damaged; use another copy.")
    if len(listed) != len(digests):
        raise BackupError("The backup holds other files than its list says; use another copy.")


def _file_read(archive: tarfile.TarFile, entry: tarfile.TarInfo, media: Path) -> str:
    """Put one file back, under MEDIA_ROOT and nowhere else; return its SHA-256."""
    path = PurePosixPath(entry.name)
    inside = path.parts[:1] == (_FILES,) and len(path.parts) > 1
    plain = entry.isfile() and not entry.islnk() and not entry.issym()
    if not plain or not inside or ".." in path.parts or "\\" in entry.name or "\0" in entry.name:
        raise BackupError(f"The backup holds “{entry.name[:80]}”, which is no file of a shop.")
    target = media.joinpath(*path.parts[1:])
    if not target.resolve().is_relative_to(media.resolve()):
        raise BackupError(f"The backup holds “{entry.name[:80]}”, which leaves the folder.")
    target.parent.mkdir(parents=True, exist_ok=True)
    read = _Digested(_opened(archive, entry))
    with target.open("xb") as out:
        shutil.copyfileobj(read, out)
    target.chmod(settings.FILE_UPLOAD_PERMISSIONS)
    return read.sha256.hexdigest()


def _opened(archive: tarfile.TarFile, entry: tarfile.TarInfo) -> IO[bytes]:
    file = archive.extractfile(entry)
    if file is None:
        raise BackupError(f"The backup holds “{entry.name[:80]}”, which is no file.")
    return file


def _sha256(file: IO[bytes]) -> str:
    digest = hashlib.sha256()
    file.seek(0)
    while block := file.read(1 << 20):
        digest.update(block)
    file.seek(0)
    return digest.hexdigest()


def _refuse_if_in_use(media: Path) -> None:
    person = apps.get_model(settings.AUTH_USER_MODEL)
    if person._base_manager.exists():  # noqa: SLF001
        raise BackupError(
            "There are people on this installation already; restore into a new, empty one."
        )
    if media.exists() and any(path.is_file() for path in media.rglob("*")):
        raise BackupError(f"There are files in {media} already; restore into an empty folder.")


def _empty(media: Path) -> None:
    """Leave no half restored files; there were none before."""
    for path in media.iterdir() if media.exists() else ():
        if path.is_dir() and not path.is_symlink():
            shutil.rmtree(path)
        else:
            path.unlink()


def _lost() -> tuple[str, ...]:
    """Return the files that rows name and that are not there."""
    found = set()
    for model in _models():
        for field in model._meta.get_fields():  # noqa: SLF001
            if isinstance(field, models.FileField):
                names = model._base_manager.values_list(field.name, flat=True)  # noqa: SLF001
                found |= {str(name) for name in names.iterator() if name}
    media = Path(settings.MEDIA_ROOT)
    return tuple(sorted(name for name in found if not (media / name).exists()))
