"""Who works in the demo shop, and the six vehicles in it. All of it is invented."""

from dataclasses import dataclass
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


@dataclass(frozen=True, slots=True)
class Story:
    """One vehicle, its complaint, and how far its job has come.

    Parameters
    ----------
    crank
        The capture of the diagnosis.
    sign
        `accepted` signs whatever the worker's verdict is; `ignition` signs an even one, with the
        fault there on the `misfiring` cylinders.
        None leaves the verdict to whoever tries the demo.
    order
        `open`, `accepted` (with the first findings) or `done`; None makes no order.
    after
        The capture after the repair; the visit is then verified, written up and closed.
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
    sign: Literal["accepted", "ignition"] | None = None
    reason: str = ""
    misfiring: tuple[int, ...] = ()
    order: Literal["open", "accepted", "done"] | None = None
    findings: tuple[DemoFinding, ...] = ()
    after: DemoCrank | None = None
    outcome: dict[str, Any] | None = None


STORIES: tuple[Story, ...] = (
    Story(  # verified and closed
        customer={"name": "Tamsin Harrowgate", "phone": "555 0142", "email": "tamsin@mail.example"},
        vehicle={
            "plate": "TL 204 KD",
            "vin": "00BRD8X25KT114083",
            "make": "Brindle",
            "model": "Carrier 2.0 D",
            "year": 2019,
            "engine_code": "BD20",
        },
        odometer=186_420,
        complaint={
            "words": "Shakes badly when cold and blows white smoke until it is warm.",
            "happens": ["cold", "starting"],
            "warning_lights": ["engine"],
            "recent_work": "Glow plugs replaced last winter.",
            "authorised_minutes": 90,
            "authorised_by": "Tamsin Harrowgate",
            "authorised_how": "phone",
        },
        codes="P0304 stored\nP0300 pending",
        misfires={1: 2, 2: 3, 3: 1, 4: 212},
        cranks="uneven",
        battery_v=12.6,
        remarks="A soft spot in every second turn, clearly heard.",
        crank=DemoCrank(411, "D4", "one", file_name="brindle-before.csv", battery=True),
        sign="accepted",
        order="done",
        findings=(
            DemoFinding("leak_down", "bad", "Clear hiss in the tailpipe.", None, 62.0, "exhaust"),
            DemoFinding("leak_down", "good", "", None, 8.0, good_cylinder=1),
            DemoFinding("gauge_dry", "bad", "Does not build.", 480.0, first_puff_kpa=330.0),
            *(
                DemoFinding(
                    "gauge_dry", "good", "", last, first_puff_kpa=first, good_cylinder=number
                )
                for number, first, last in ((1, 1210, 2680), (2, 1190, 2650), (3, 1230, 2700))
            ),
        ),
        after=DemoCrank(411, "D4", "none", file_name="brindle-after.csv", battery=True),
        outcome={
            "cause": "Burnt exhaust valve; the cylinder lost most of its compression past it.",
            "correction": "Cylinder head overhauled: valve and seat renewed, all valves lapped.",
            "verified": "yes",
            "verified_how": "Second cranking capture even, cold start without shaking or smoke.",
            "told_customer": "One exhaust valve no longer sealed, so one of the four cylinders did "
            "hardly any work until the engine was warm. The valve is new and the engine turns "
            "over evenly again.",
        },
    ),
    Story(  # two low: the mechanic is on it
        customer={"name": "Ambrose Tiller", "phone": "555 0177"},
        vehicle={
            "plate": "OK 77 TVR",
            "vin": "00VEL5R63ND230917",
            "make": "Velmar",
            "model": "Regent 3.0",
            "year": 2016,
            "engine_code": "VR30",
        },
        odometer=141_900,
        complaint={
            "words": "Loses coolant and runs on less than six since the holiday trip.",
            "happens": ["idle", "pulling_away"],
            "warning_lights": ["engine_flashing", "coolant"],
            "authorised_minutes": 120,
            "authorised_amount": "260",
            "authorised_by": "Ambrose Tiller",
            "authorised_how": "person",
        },
        codes="Stored:\nP0300\nP0303\nPending:\nP0304",
        misfires={1: 2, 2: 0, 3: 164, 4: 149, 5: 3, 6: 1},
        cranks="uneven",
        battery_v=12.5,
        remarks="Two soft compressions; coolant below minimum.",
        crank=DemoCrank(506, "I6", "adjacent", file_name="velmar-crank.csv"),
        sign="accepted",
        order="accepted",
        findings=(
            DemoFinding("coolant", "bad", "Combustion gas in the coolant.", is_whole_engine=True),
            DemoFinding("leak_down", "bad", "Loud in the next hole.", None, 55.0, "neighbour"),
        ),
    ),
    Story(  # one low: work order waiting
        customer={"name": "Ines Calloway", "phone": "555 0119"},
        vehicle={
            "plate": "MN 318 FX",
            "vin": "00GRW3A49LS006512",
            "make": "Quarrow",
            "model": "Finch 1.6",
            "year": 2014,
            "engine_code": "QF16",
        },
        odometer=98_750,
        complaint={
            "words": "Shudders at the lights and the orange engine lamp is on.",
            "happens": ["idle"],
            "warning_lights": ["engine"],
            "recent_work": "New spark plugs at another garage two weeks ago, no change.",
            "authorised_minutes": 60,
            "authorised_by": "Ines Calloway",
            "authorised_how": "phone",
        },
        codes="P0303 confirmed\nP0300 pending",
        misfires={1: 1, 2: 0, 3: 188, 4: 2},
        cranks="uneven",
        battery_v=12.7,
        remarks="Plugs and coil swapped between cylinders: the misfire stays.",
        crank=DemoCrank(308, "I4", "one", file_name="finch-crank.csv", battery=True),
        sign="accepted",
        order="open",
    ),
    Story(  # waste spark: two sets fit, somebody has to decide
        customer={"name": "Benedikt Storrow", "phone": "555 0163"},
        vehicle={
            "plate": "GE 55 LMN",
            "vin": "00TAV2C83GW771340",
            "make": "Tavish",
            "model": "Estate 2.8",
            "year": 2008,
            "engine_code": "TE28",
        },
        odometer=221_300,
        complaint={
            "words": "No power uphill and it stumbles all the time.",
            "happens": ["uphill", "always"],
            "warning_lights": ["engine"],
            "authorised_minutes": 60,
            "authorised_by": "Benedikt Storrow",
            "authorised_how": "written",
        },
        codes="P0300 stored",
        misfires={},
        cranks="uneven",
        battery_v=12.4,
        remarks="Coils fire in pairs; buried, only the feed of one pair could be reached.",
        crank=DemoCrank(618, "V6", "one", sync="360", file_name="tavish-crank.csv"),
    ),
    Story(  # a capture that cannot be judged
        customer={"name": "Corinne Maybrook", "phone": "555 0188"},
        vehicle={
            "plate": "HH 9 PSD",
            "vin": "00LND7F17MK450226",
            "make": "Lundqvar",
            "model": "Courier 1.8",
            "year": 2017,
            "engine_code": "LC18",
        },
        odometer=154_080,
        complaint={
            "words": "Hard to start after standing and rough for the first minute.",
            "happens": ["after_standing", "starting"],
            "authorised_minutes": 45,
            "authorised_by": "Corinne Maybrook",
            "authorised_how": "phone",
        },
        codes="",
        misfires={},
        cranks="uneven",
        battery_v=12.2,
        remarks="The screen's range was left too small.",
        crank=DemoCrank(702, "I4", "one", flaw="clipped-screen", file_name="courier-crank.csv"),
    ),
    Story(  # healthy: the misfire is one of ignition
        customer={"name": "Leopold Finchley", "phone": "555 0121"},
        vehicle={
            "plate": "WS 640 OT",
            "vin": "00CST9K34PB918877",
            "make": "Ostrin",
            "model": "Vale 1.2",
            "year": 2021,
            "engine_code": "OV12",
        },
        odometer=41_260,
        complaint={
            "words": "Bucks in the wet, otherwise fine.",
            "happens": ["wet", "accelerating"],
            "warning_lights": ["engine_flashing"],
            "authorised_minutes": 60,
            "authorised_by": "Leopold Finchley",
            "authorised_how": "person",
        },
        codes="P0302 stored\nP0302 permanent",
        misfires={1: 0, 2: 96, 3: 1},
        cranks="even",
        battery_v=12.7,
        remarks="Turns over evenly; misfire follows the coil.",
        crank=DemoCrank(815, "I3", "none", file_name="vale-crank.csv"),
        sign="ignition",
        misfiring=(2,),
        reason="Cranks evenly and the misfire moved with the coil: ignition, cylinder 2.",
    ),
)
