"""Reference captures, and recordings that lie beside the project."""

import os
from pathlib import Path

import pytest

from tests.reference_captures import Reference, all_references

_SHARED = Path(__file__).resolve().parents[4] / "shared"


def _folder(name: str) -> Path:
    folder = _SHARED / name
    if not folder.is_dir():
        if os.environ.get("CI"):
            pytest.fail(f"CI must have the folder {name} beside the project.")
        pytest.skip(f"The folder {name} is not beside the project; its recordings are wanted.")
    return folder


@pytest.fixture(scope="session")
def references() -> dict[str, Reference]:
    return all_references()


@pytest.fixture(scope="session")
def real() -> Path:
    return _folder("real")
