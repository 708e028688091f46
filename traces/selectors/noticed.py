"""What an analysis noticed, as a capture's page shows it: said beside the verdict, or folded."""

from collections.abc import Iterable
from dataclasses import dataclass
from typing import TYPE_CHECKING

from django.utils.translation import gettext_lazy as _

from traces.core.findings import Finding

if TYPE_CHECKING:
    from django_stubs_ext import StrOrPromise

_FOLDED: "dict[str, StrOrPromise]" = {
    "inverted": _("Current inverted"),
    "neighbour-effect": _("Tall hump after a weak one"),
    "drift": _("Current drifts"),
    "load-on-cable": _("Clamp not at zero"),
    "gaps": _("Samples bridged"),
    "ratio-assumed": _("Compression ratio assumed"),
    "valves-hidden": _("Valve angles hidden"),
    "peak-not-gauge": _("No gauge reading"),
    "angles-effective": _("What angles mean"),
}
"""Notes that leave the verdict as it is, by code, each with the name it is folded under. What is
not named here stays said: a finding that somebody adds later must not vanish by itself."""


@dataclass(frozen=True, slots=True)
class Explained:
    """A finding with what explains it, a sentence each."""

    found: Finding
    aid: tuple[str, ...]

    @property
    def is_folded(self) -> bool:
        """Whether it leaves the meaning of the verdict as it is."""
        return self.found.severity == "note" and self.found.code in _FOLDED


@dataclass(frozen=True, slots=True)
class Folded:
    """Notes of one kind under one name."""

    name: "StrOrPromise"
    notes: tuple[Explained, ...]


def said_beside(noticed: Iterable[Explained]) -> tuple[Explained, ...]:
    """Return what must be read with the verdict: every warning, and what changes its meaning."""
    return tuple(one for one in noticed if not one.is_folded)


def folded_notes(noticed: Iterable[Explained]) -> tuple[Folded, ...]:
    """Return the notes that leave the verdict as it is, those of one code together."""
    notes = [one for one in noticed if one.is_folded]
    codes = dict.fromkeys(one.found.code for one in notes)
    return tuple(
        Folded(_FOLDED[code], tuple(n for n in notes if n.found.code == code)) for code in codes
    )
