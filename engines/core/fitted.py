"""How coils and injectors are fitted: what tests of single cylinders hang on."""

from collections.abc import Mapping
from types import MappingProxyType

from shopdiag.people.core.words import gettext as _
from shopdiag.people.core.words import gettext_noop

COILS: Mapping[str, str] = MappingProxyType(
    {
        "single": gettext_noop("One coil per cylinder"),
        "pairs": gettext_noop("Pair coils (wasted spark)"),
        "distributor": gettext_noop("One coil and a distributor"),
    }
)
INJECTION: Mapping[str, str] = MappingProxyType(
    {
        "port": gettext_noop("Port injection"),
        "direct": gettext_noop("Direct injection"),
        "single_point": gettext_noop("Single-point injection"),
        "common_rail": gettext_noop("Diesel common rail"),
        "unit": gettext_noop("Diesel unit injectors"),
        "pump_line": gettext_noop("Diesel pump, lines and nozzles"),
    }
)
OF_DIESELS = frozenset({"common_rail", "unit", "pump_line"})


def fitted_refusals(fuel: str, coils: str, injection: str) -> dict[str, str]:
    """Return why an engine of a fuel cannot have such coils or injection, by `coils`, `injection`.

    A fuel that is not known refuses nothing.
    """
    refused = {}
    if fuel == "diesel" and coils:
        refused["coils"] = _("A diesel has no ignition coils; leave it open or correct the fuel.")
    if fuel and injection and (fuel == "diesel") != (injection in OF_DIESELS):
        refused["injection"] = _("This injection does not go with the fuel; correct one of them.")
    return refused
