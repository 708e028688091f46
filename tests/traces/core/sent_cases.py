"""Cases as a stranger may have made them."""

import io
import json
import zipfile
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from tests.traces.core.readers import files
from traces.core.readers import ReadError, read
from traces.core.readers.case_files import read_case

Members = dict[str, bytes]
LATER = "later version"
DAMAGED = "damaged or was changed"


def members_of(content: bytes) -> Members:
    with zipfile.ZipFile(io.BytesIO(content)) as archive:
        return {name: archive.read(name) for name in archive.namelist()}


def archive_of(members: Members, method: int = zipfile.ZIP_DEFLATED) -> bytes:
    file = io.BytesIO()
    with zipfile.ZipFile(file, "w", method) as archive:
        for name, content in members.items():
            archive.writestr(name, content)
    return file.getvalue()


def whole_case() -> Members:
    return members_of(files.content("case"))


def sent_path(folder: Path, content: bytes) -> Path:
    path = folder / "sent.case.zip"
    path.write_bytes(content)
    return path


def check_refused(folder: Path, members: Members, match: str = DAMAGED) -> None:
    path = sent_path(folder, archive_of(members))
    for way in (read, read_case):
        with pytest.raises(ReadError, match=match):
            way(path)


def changed_case(name: str, change: Callable[[Any], None]) -> Members:
    """Return a case one of whose JSON members was changed."""
    members = whole_case()
    data = json.loads(members[name])
    change(data)
    members[name] = json.dumps(data).encode()
    return members
