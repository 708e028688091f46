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
from traces.models import PartialUpload
from traces.uploads.request_files import (
    arriving_folder,
    arriving_path,
    arriving_remove,
    arriving_tokens,
)

INCOMING_LEFT_AFTER = timedelta(hours=6)
"""A request writes its body all the time; none takes so long to be taken in after that."""

ABANDONED_AFTER = timedelta(hours=24)
"""An upload that nobody went on with for so long is given up."""


def partial_drop(partial: PartialUpload) -> None:
    """Forget an upload and remove what is here of it."""
    token: UUID = partial.token
    # The row first: a file without a row is swept up, a row without a file would promise one.
    PartialUpload.objects.filter(pk=token).delete()
    arriving_remove(token)


def clear_debris() -> int:
    """Remove what a person or a killed process left of uploads; return how many."""
    return _clear_incoming() + _clear_arriving()


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


def _clear_arriving() -> int:
    """Remove abandoned uploads, files without a row and rows without a file; return how many."""
    if not arriving_folder().is_dir():
        # Nothing came in parts yet, or the files are elsewhere and this process sees none.
        return 0
    cleared = 0
    for row in PartialUpload.objects.filter(touched_at__lt=Now() - ABANDONED_AFTER):
        partial_drop(row)
        cleared += 1
    # Files are listed before rows: a row is there before its file.
    lying = arriving_tokens()
    under_way = PartialUpload.objects.filter(finished_at=None)
    tokens = {token.hex for token in under_way.values_list("pk", flat=True)}
    for name, paths in lying.items():
        if name not in tokens:
            cleared += sum(map(_removed, paths))
    for row in under_way.filter(~Q(received_bytes=0)):
        if not arriving_path(row.token).exists():
            cleared += under_way.filter(pk=row.pk).delete()[0]
    return cleared


def _removed(path: Path) -> bool:
    try:
        path.unlink()
    except FileNotFoundError:
        return False
    return True
