"""The secret key of a shop's own machine: made once, kept outside git."""

import os
import secrets
from pathlib import Path


def read_or_create(path: Path) -> str:
    """Return the key kept at `path`; make it, readable by its owner only, if there is none.

    Two processes that start together end up with the same key: the file is linked into
    place complete, and the loser reads the winner's.
    """
    try:
        return path.read_text(encoding="ascii").strip()
    except FileNotFoundError:
        pass
    path.parent.mkdir(parents=True, exist_ok=True)
    draft = path.with_name(f".{path.name}.{os.getpid()}")
    descriptor = os.open(draft, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
    with os.fdopen(descriptor, "w", encoding="ascii") as file:
        file.write(secrets.token_urlsafe(50) + "\n")
    try:
        os.link(draft, path)
    except FileExistsError:
        pass
    finally:
        draft.unlink()
    return path.read_text(encoding="ascii").strip()
