"""Nothing stays behind of uploads that were given up, left alone or taken in."""

import time
from contextlib import suppress
from datetime import timedelta
from pathlib import Path
from uuid import UUID

from django.conf import settings
from django.db.models import Q
from django.db.models.functions import Now

from traces.core.readers import unpacked_folder
from traces.models import Upload
from traces.uploads.files import content_remove, stored_uploads, upload_path, uploads_folder

INCOMING_LEFT_AFTER = timedelta(hours=6)
"""A request writes its body all the time; none takes so long to be taken in after that."""


def upload_drop(upload: Upload) -> None:
    """Forget an upload and remove what is here of it."""
    token: UUID = upload.token
    # The row first: a file without a row is swept up, a row without a file would promise one.
    Upload.objects.filter(pk=token).delete()
    content_remove(token)


def uploads_clear() -> int:
    """Remove what a person or a killed process left of uploads; return how many."""
    return _clear_incoming() + _clear_uploads()


def _clear_incoming() -> int:
    """Remove request bodies and unpacked archives whose process was killed over them."""
    left_before = time.time() - INCOMING_LEFT_AFTER.total_seconds()
    cleared = 0
    for folder in (Path(settings.FILE_UPLOAD_TEMP_DIR), unpacked_folder()):
        for path in folder.iterdir() if folder.is_dir() else ():
            with suppress(FileNotFoundError):
                if path.is_file() and path.stat().st_mtime < left_before:
                    cleared += _removed(path)
    return cleared


def _clear_uploads() -> int:
    """Remove abandoned uploads, files without a row and rows without a file; return how many."""
    if not uploads_folder().is_dir():
        # Nothing was uploaded yet, or the files are elsewhere and this process sees none.
        return 0
    cleared = 0
    for row in Upload.objects.filter(touched_at__lt=Now() - Upload.KEPT_FOR):
        upload_drop(row)
        cleared += 1
    # Files are listed before rows: a row is there before its file.
    stored = stored_uploads()
    under_way = Upload.objects.filter(finished_at=None)
    tokens = {token.hex for token in under_way.values_list("pk", flat=True)}
    for name, paths in stored.items():
        if name not in tokens:
            cleared += sum(map(_removed, paths))
    for row in under_way.filter(~Q(received_bytes=0)):
        if not upload_path(row.token).exists():
            cleared += under_way.filter(pk=row.pk).delete()[0]
    return cleared


def _removed(path: Path) -> bool:
    try:
        path.unlink()
    except FileNotFoundError:
        return False
    return True
