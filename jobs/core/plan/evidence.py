"""What is known of an engine and its job when the next tests are chosen."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Literal, TypeAlias

from engines.core.firing import FiringOrder
from engines.core.positions import Positions, bank_numbers, cylinders_by_bank, neighbours_of
from jobs.core.measured_tests import Limit
from jobs.core.patterns import Pattern
from jobs.core.plan.learning import Learnt

CompressionResult: TypeAlias = Literal[
    "none", "even", "even_as_far", "weak", "bank", "high", "open", "not_judged"
]
SwapPart: TypeAlias = Literal["coil", "plug", "injector"]
Figure: TypeAlias = float | str


@dataclass(frozen=True, slots=True)
class EngineFacts:
    """How the cylinders of an engine stand to each other.

    Parameters
    ----------
    cylinders
        Their numbers; empty where the engine is not known.
    banks
        Bank, 1 or 2 as fault codes count them, by cylinder; empty where there is one row.
    neighbours
        Cylinders that sit beside each one on its bank.
    companions
        The cylinder 360 degrees away, by cylinder.
    is_flat
        Whether the cylinders lie, so that oil does not reach the whole ring.
    """

    cylinders: tuple[int, ...] = ()
    banks: Mapping[int, int] = field(default_factory=dict)
    neighbours: Mapping[int, tuple[int, ...]] = field(default_factory=dict)
    companions: Mapping[int, int] = field(default_factory=dict)
    is_flat: bool = False

    @classmethod
    def of(
        cls, order: FiringOrder | None, places: Positions | None, *, is_flat: bool = False
    ) -> "EngineFacts":
        """Return what follows from a firing order and the cylinders' places."""
        if order is None:
            return cls()
        pairs = {c: order.companion_of(c) for c in order.sequence}
        return cls(
            cylinders=tuple(sorted(order.sequence)),
            banks=bank_numbers(cylinders_by_bank(places)) if places else {},
            neighbours={c: neighbours_of(places, c) for c in places} if places else {},
            companions={c: other for c, other in pairs.items() if other is not None},
            is_flat=is_flat,
        )


@dataclass(frozen=True, slots=True)
class Compression:
    """What the cranking test says.

    Parameters
    ----------
    result
        `none` where none was made.
    weak
        Relative compression by weak cylinder, 1.0 as good as the others; NaN where no figure
        is known.
    high, weaker_bank
        Cylinders that stand high, and those of a bank that is weaker as a whole.
    captures
        Captures of this state that were judged.
    temperature
        Of the engine while it was cranked: `cold`, `warm`, `hot`; empty where nobody noted it. Of
        several even captures the warmest, and empty rather than cold where it may have been warm.
    """

    result: CompressionResult = "none"
    weak: Mapping[int, float] = field(default_factory=dict)
    high: frozenset[int] = frozenset()
    weaker_bank: frozenset[int] = frozenset()
    captures: int = 1
    temperature: str = ""


@dataclass(frozen=True, slots=True)
class IdleBalance:
    """What the idling engine says beside the cranked one, cylinder by cylinder.

    Parameters
    ----------
    burns_badly
        Cylinders that compress like the others and add less.
    weak_in_both
        Cylinders weak while cranking that add less, too.
    contradicted
        Cylinders weak while cranking that add as much as the others.
    is_even
        Whether surely none is weak in either.
    rests_on_flywheel
        Whether another kind of flywheel would make other cylinders weak.
    """

    burns_badly: frozenset[int] = frozenset()
    weak_in_both: frozenset[int] = frozenset()
    contradicted: frozenset[int] = frozenset()
    is_even: bool = False
    rests_on_flywheel: bool = False


NOT_RECORDED = IdleBalance()


@dataclass(frozen=True, slots=True)
class InCylinder:
    """What pressures in the cylinders show.

    Parameters
    ----------
    leaking
        Cylinders that surely lose more than a good one.
    filling_less
        Cylinders that compress less and lose no more.
    comes_and_goes
        Cylinders whose compressions differ from cycle to cycle.
    is_exhaust_blocked, is_exhaust_free
        Whether the exhaust holds back more than usual, and whether all measured show that it does
        not.
    is_cam_off
        Whether a cam is late or early beside a known-good capture.
    """

    leaking: frozenset[int] = frozenset()
    filling_less: frozenset[int] = frozenset()
    comes_and_goes: frozenset[int] = frozenset()
    is_exhaust_blocked: bool = False
    is_exhaust_free: bool = False
    is_cam_off: bool = False


NOT_MEASURED = InCylinder()


@dataclass(frozen=True, slots=True)
class TestDone:
    """One test that was made.

    Parameters
    ----------
    test
        Its key, as findings of a work order keep it.
    outcome
        `good`, `bad` or `ambiguous`; `not_done` where a bank could not be read, as with a scan tool
        that reports one of two.
    cylinder, bank
        What it is about; both None where it is about the whole engine.
    figures
        What was measured, by name with its unit.
    limits
        The limits that were in force, by figure; usual ones count for those that are not there.
    is_warm
        Whether the engine was warm; None where nobody noted it.
    """

    test: str
    outcome: str
    cylinder: int | None = None
    bank: int | None = None
    figures: Mapping[str, Figure] = field(default_factory=dict)
    limits: Mapping[str, Limit] = field(default_factory=dict)
    is_warm: bool | None = None

    # pytest collects what is called so
    __test__ = False


@dataclass(frozen=True, slots=True)
class SwapDone:
    """A part moved to another cylinder, and whether the misfire followed: yes, no, changed."""

    part: SwapPart
    from_cylinder: int
    to_cylinder: int
    followed: str


@dataclass(frozen=True, slots=True)
class Said:
    """What the triage asked; None where nobody asked.

    Parameters
    ----------
    oil_level, coolant_level
        `ok`, `low` or, of oil, `high`; empty where not asked.
    plugs_age_km
        How far the plugs have run.
    """

    oil_level: str = ""
    oil_loss: bool | None = None
    coolant_level: str = ""
    coolant_loss: bool | None = None
    fuel_in_oil: bool | None = None
    timing_work: bool = False
    fuel_work: bool = False
    ignition_work: bool = False
    plugs_age_km: float | None = None

    @property
    def loses_coolant(self) -> bool:
        """Whether coolant is lost: as answered, else by a low level."""
        if self.coolant_loss is not None:
            return self.coolant_loss
        return self.coolant_level == "low"


@dataclass(frozen=True, slots=True)
class Evidence:
    """All that the plan is made from.

    Parameters
    ----------
    fuel
        `petrol`, `gas` or `diesel`.
    ignition
        `single`, `pairs` (one coil for two cylinders) or `distributor` (one for all); empty where
        not known.
    injection
        `port`, `direct`, `single_point` (one injector for all); of diesels `common_rail`, `unit`
        (unit injectors) or `pump_line` (pump, lines and nozzles); empty where not known.
    codes
        (code, status) as read, such as (`P0302`, `stored`).
    counts
        Misfires by cylinder, of one reading; empty where none was taken.
    cranks, verified
        Cranking sound (`even`, `uneven`, `slow`, `fast`, `no_crank`), and whether the complaint
        was confirmed (`yes`, `no`).
    idle
        What the idling engine says beside the cranked one.
    in_cylinder
        What pressures in the cylinders show.
    patterns
        How the cylinders stand out in the cranking test.
    happens
        When the customer says that it happens (`jobs.core.complaint.HAPPENS`).
    named
        Cylinders that a person signed or a test named; they go before codes and counts.
    is_refused_for_timing
        Whether a capture was refused as valve timing may make it be.
    has_frame
        Whether the freeze frame of a code is on record; looked up where nobody felt the misfire.
    frames
        Freeze frames of misfires and mixture as the initial checks hold them, by the names of a
        recorded one's figures.
    """

    engine: EngineFacts = field(default_factory=EngineFacts)
    fuel: str = "petrol"
    ignition: str = ""
    injection: str = ""
    codes: tuple[tuple[str, str], ...] = ()
    counts: Mapping[int, int] = field(default_factory=dict)
    compression: Compression = field(default_factory=Compression)
    idle: IdleBalance = NOT_RECORDED
    in_cylinder: InCylinder = NOT_MEASURED
    patterns: frozenset[Pattern] = frozenset()
    cranks: str = ""
    verified: str = ""
    happens: frozenset[str] = frozenset()
    said: Said = field(default_factory=Said)
    done: tuple[TestDone, ...] = ()
    swaps: tuple[SwapDone, ...] = ()
    named: frozenset[int] = frozenset()
    is_refused_for_timing: bool = False
    has_frame: bool = False
    frames: tuple[Mapping[str, Figure], ...] = ()

    @property
    def is_even(self) -> bool:
        """Whether the cranking test is even, as far as it could tell."""
        return self.compression.result in {"even", "even_as_far"}

    @property
    def was_first_cold(self) -> bool:
        """Whether it happens warm only, and no even capture is known to be made warm."""
        only_warm = "warm" in self.happens and not {"always", "cold"} & self.happens
        return self.is_even and only_warm and self.compression.temperature not in {"warm", "hot"}

    @property
    def is_untried_warm(self) -> bool:
        """Whether it happens warm only, and the capture was not even repeated warm."""
        return self.was_first_cold and not self.warm_repeats

    @property
    def was_first_warm(self) -> bool:
        """Whether it happens cold only, and the even captures are known to be made warm."""
        only_cold = bool({"cold", "after_standing"} & self.happens)
        only_cold = only_cold and not {"always", "warm", "hot_restart"} & self.happens
        return self.is_even and only_cold and self.compression.temperature in {"warm", "hot"}

    @property
    def is_untried_cold(self) -> bool:
        """Whether it happens cold only, and the capture was not repeated cold."""
        made = (d for d in self.done if d.test == "repeat" and d.is_warm is False)
        return self.was_first_warm and not any(d.outcome in {"good", "bad"} for d in made)

    @property
    def warm_repeats(self) -> frozenset[str]:
        """Outcomes of captures repeated warm, as far as they are good or bad."""
        made = (d for d in self.done if d.test == "repeat" and d.is_warm)
        return frozenset(d.outcome for d in made) & {"good", "bad"}

    @property
    def has_rail(self) -> bool:
        """Whether fuel is injected from a rail with a sensor of its own; mostly so in diesels."""
        is_likely = self.fuel == "diesel" and not self.injection
        return is_likely or self.injection in {"direct", "common_rail"}

    @property
    def has_records(self) -> bool:
        """Whether more is known than the complaint and the cranking test."""
        made = any(d.outcome != "not_done" for d in self.done)
        recorded = self.idle != NOT_RECORDED or self.in_cylinder != NOT_MEASURED
        typed = self.codes or self.counts or self.swaps or self.said != Said()
        return bool(typed or made or recorded)


@dataclass(frozen=True, slots=True)
class Costs:
    """What tests take on this engine.

    Parameters
    ----------
    access_minutes
        To reach the plugs, by cylinder.
    learnt
        Minutes of tests as the shop booked them; the usual figure counts where there is none.
    """

    access_minutes: Mapping[int, int] = field(default_factory=dict)
    learnt: Mapping[str, Learnt] = field(default_factory=dict)
