"""Properties of gases by CoolProp's equations of state.

The library takes seconds to load; only tests that ask for a property load it, in their process.
"""

from functools import cache
from importlib import import_module
from typing import Any


@cache
def _library() -> Any:
    return import_module("CoolProp.CoolProp")


def PropsSI(*asked: Any) -> Any:  # noqa: N802 - as the library calls it
    """Return what CoolProp's function of this name returns."""
    return _library().PropsSI(*asked)
