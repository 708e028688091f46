"""Who works in the demo shop, and what one of its vehicles has to tell. All of it is invented."""

from dataclasses import dataclass, field
from typing import Any, Literal

from shopdiag.people.core.roles import Role

SHOP = "Tern Lane Motor Works (demo)"
PASSWORD = "crank-it-over"  # noqa: S105 - printed at every start; for the demo shop only
PEOPLE: tuple[tuple[Role, str, str], ...] = (
    (Role.WRITER, "demo-writer", "Wren Castellane"),
    (Role.DIAGNOSTICIAN, "demo-diag", "Dorrit Ashgrove"),
    (Role.MECHANIC, "demo-mech", "Milo Underhay"),
    (Role.OWNER, "demo-owner", "Odile Fernsby"),
)

SyncKind = Literal["720", "360"]


@dataclass(frozen=True, slots=True)
class DemoCrank:
    """A capture to simulate: what the engine has, and what is wrong with the recording."""

    seed: int
    layout: str
    fault: str
    flaw: str | None = None
    sync: SyncKind = "720"
    file_name: str = "crank.csv"
    battery: bool = False
    """Whether the battery's voltage was recorded beside the current."""


@dataclass(frozen=True, slots=True)
class DemoIdle:
    """A recording of the idling engine to simulate: what each cylinder burns of a sound one's."""

    seed: int
    burn: dict[int, float]
    file_name: str = "idle.csv"


@dataclass(frozen=True, slots=True)
class DemoPressure:
    """One cylinder's pressure to simulate: idling, that cylinder cut out.

    Parameters
    ----------
    cylinder
        Where the transducer sat.
    back_kpa
        What the exhaust holds back.
    """

    seed: int
    cylinder: int
    back_kpa: float
    file_name: str


@dataclass(frozen=True, slots=True)
class DemoFinding:
    """One finding of the mechanic, on each suspect cylinder where none is named."""

    test: str
    outcome: str
    words: str = ""
    pressure_kpa: float | None = None
    leak_percent: float | None = None
    heard_at: str = ""
    first_puff_kpa: float | None = None
    good_cylinder: int | None = None
    is_whole_engine: bool = False
    cylinder: int | None = None
    """The one cylinder it is about, where it is not each suspect one."""
    figures: dict[str, float | str] = field(default_factory=dict)
    """What a test beyond compression read, by name."""


@dataclass(frozen=True, slots=True)
class DemoSwap:
    """A part moved to another cylinder, with misfires counted before and after."""

    part: str
    from_cylinder: int
    to_cylinder: int
    followed: str
    before: dict[int, int]
    after: dict[int, int]


@dataclass(frozen=True, slots=True)
class Story:
    """One vehicle, its complaint, and how far its job has come.

    Parameters
    ----------
    crank
        The capture of the diagnosis.
    sign
        `accepted` signs whatever the worker's verdict is; `ignition`, `fuel` and `exhaust` sign an
        even one, with the fault there on the `misfiring` cylinders.
        None leaves the verdict to whoever tries the demo.
    order
        `open`, `accepted` (with the first findings) or `done`; None makes no order.
    summary, left_out
        What the mechanic writes when it is done.
    after
        The capture after the repair; without one, what else proves it stands in the `outcome`.
        The visit is then verified, written up and closed.
    """

    customer: dict[str, Any]
    vehicle: dict[str, Any]
    odometer: int
    complaint: dict[str, Any]
    codes: str
    misfires: dict[int, int]
    cranks: str
    battery_v: float
    remarks: str
    crank: DemoCrank
    idle: DemoIdle | None = None
    """The engine idling, recorded for the diagnosis; None where it was not."""
    pressures: tuple[DemoPressure, ...] = ()
    """Pressures in the cylinders, measured one after another for the diagnosis."""
    pressures_after: tuple[DemoPressure, ...] = ()
    """The same after the repair."""
    triage: dict[str, Any] = field(default_factory=dict)
    """What else the initial checks found."""
    sign: Literal["accepted", "ignition", "fuel", "exhaust"] | None = None
    reason: str = ""
    misfiring: tuple[int, ...] = ()
    order: Literal["open", "accepted", "done"] | None = None
    findings: tuple[DemoFinding, ...] = ()
    swaps: tuple[DemoSwap, ...] = ()
    summary: str = ""
    left_out: str = ""
    after: DemoCrank | None = None
    outcome: dict[str, Any] | None = None
