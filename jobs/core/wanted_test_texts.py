"""The tests a work order can ask for: what to do, what it decides, and who says so.

Every text to do fits the line that the printed sheet has for it (`LONGEST_WORDS`).
"""

from dataclasses import asdict, dataclass

COMMON = "common practice"
MAKERS = "vehicle manufacturers' service texts, as an example"
LONGEST_WORDS = 270


@dataclass(frozen=True, slots=True)
class WantedTest:
    """One test asked for.

    Parameters
    ----------
    key
        Short name; `tests_wanted.recorded_as` gives the test of the finding on it.
    words
        What to do and what to write down.
    why
        What the outcome decides.
    source
        Where the advice comes from.
    """

    key: str
    words: str
    why: str
    source: str

    def to_json(self) -> dict[str, str]:
        """Return plain JSON values."""
        return asdict(self)


STOP_HIGH = WantedTest(
    "stop",
    "Do not crank again. Take the plug (diesel: glow plug or injector, as the manufacturer "
    "specifies) out of the high cylinder and look for liquid.",
    "Liquid does not compress: cranking on can bend a rod.",
    COMMON,
)
STOP_HIGH_ANY = WantedTest(
    "stop",
    "Do not crank again. Which cylinder stands high is not settled: take every plug (diesel: glow "
    "plug or injector, as the manufacturer specifies) out and look for liquid.",
    STOP_HIGH.why,
    COMMON,
)
EXHAUST_LIFT = WantedTest(
    "exhaust_lift",
    "If the high cylinder is dry and clean: rocker cover off, compare the lift of the exhaust "
    "valves of its 360° companion with another cylinder's.",
    "An exhaust valve that stays shut compresses the gas again, a turn later, on top of the high "
    "cylinder's own compression.",
    COMMON,
)
COOLANT = WantedTest(
    "coolant",
    "Cooling system first (coolant lost, or it ran hot): pressure-test it, or test the coolant for "
    "combustion gas. Look into the suspect cylinders for coolant before the engine is cranked "
    "again.",
    "Finds a leaking gasket before anything comes apart. Coolant in a cylinder can lock the "
    "engine.",
    COMMON,
)
REPEAT_ONCE = WantedTest(
    "repeat_once",
    "Repeat the capture once: battery at 12.4 V or more, same throttle, sync verified on the "
    "cylinder it was set up for.",
    "One figure should not decide money. A second capture that agrees costs minutes.",
    COMMON,
)
RESYNC = WantedTest(
    "sync",
    "Check the sync first: repeat the capture with a second sync source, or open one easy "
    "cylinder and see which hump drops out.",
    "Until the sync is verified, more than one set of cylinders fits: with the sync on the wrong "
    "turn, two cylinders 360° apart trade places.",
    COMMON,
)
BAR_FOR_DRAG = WantedTest(
    "bind",
    "Bar the engine over by hand, two turns in its direction of rotation: does it bind once in "
    "every turn (starter, ring gear, accessory)?",
    "A drag once a turn raises its own pair of cylinders, 360° apart. On a four the other pair "
    "then looks low.",
    COMMON,
)
BAR_FOR_TIMING = WantedTest(
    "bind",
    "Valve timing is in doubt: do not crank. Bar the engine over by hand, two turns in its "
    "direction of rotation. Stop at any contact. Note a tight spot in every turn.",
    "In an interference engine with wrong valve timing the pistons meet the valves. Only one that "
    "bars over freely may be cranked again.",
    COMMON,
)
TIMING = WantedTest(
    "timing",
    "Valve timing of {where}: read the codes (P0008 to P0025) and the cam phasers' data.",
    "Late or early valves lower a bank or the whole engine at once. Codes and data cost minutes.",
    "common practice; code numbers: SAE J2012",
)
CAM_TRACE = WantedTest(
    "cam_trace",
    "Cam against crank trace of {where}, beside one of a known-good engine of the kind. Marks only "
    "where a window shows them; covers come off last.",
    "Shows a chain or belt that jumped, and a phaser that is not parked, with the covers on.",
    COMMON,
)
BANK_GAUGE = WantedTest(
    "bank_gauge",
    "Compression test, dry, on one easy cylinder of each bank: throttle wide open, charged "
    "battery, at least four strokes; hold both against the manufacturer's figure.",
    "Tells whether the weaker bank is late or the other one early; the capture compares only.",
    COMMON,
)
BANK_GAUGE_DIESEL = WantedTest(
    "bank_gauge",
    "Compression test, dry, on one easy cylinder of each bank, injection disabled as the "
    "manufacturer specifies: charged battery, at least four strokes; hold both against the "
    "manufacturer's figure.",
    BANK_GAUGE.why,
    COMMON,
)
VACUUM = WantedTest(
    "vacuum",
    "Cranking vacuum, throttle closed, or an in-cylinder pressure trace, beside a known-good "
    "engine of the kind.",
    "Low and steady: late valve timing or a leak that all cylinders share.",
    COMMON,
)
LEAK = WantedTest(
    "leak_down",
    "Leak-down, named cylinder and an easy good one: TDC of compression, both valves closed, "
    "reached from both sides, crank held; warm, throttle wide open, filler cap off, breather shut "
    "off from the intake, coolant full.",
    "Where the air escapes names the leak: intake, exhaust, oil filler, coolant or the next "
    "cylinder. An open breather reads as an intake valve. Per cent depends on the tester's "
    "orifice: note the tester, compare within one.",
    "FAA AC 43.13-1B ch. 8 for the method (aircraft: orifice 0.040 in up to a 5.00 in bore); "
    "limits for cars are common practice",
)
LISTEN = WantedTest(
    "neighbour",
    "During the leak-down listen at the neighbour's open plug hole and watch the coolant.",
    "Air in the neighbour is the gasket between the two.",
    MAKERS,
)
LEAK_DIESEL = WantedTest(
    "leak_down",
    "Leak-down, named cylinder and an easy good one: TDC of compression, both valves closed, "
    "reached from both sides, crank held; warm, filler cap off, breather shut off from the intake, "
    "coolant full.",
    LEAK.why,
    LEAK.source,
)
SCOPE = WantedTest(
    "borescope",
    "Borescope through the plug hole: valves, seats, crown and bore, the same views on the good "
    "cylinder; number each picture.",
    "A picture shows what a figure only hints at, before the head comes off.",
    COMMON,
)
SEATS = WantedTest(
    "seats",
    "Seats of plug, glow plug and injector of the low cylinder: leak detector on them while the "
    "leak-down air stands on.",
    "A loose plug or a leaking injector seat is the cheapest lost compression.",
    COMMON,
)
DRY = WantedTest(
    "gauge_dry",
    "Compression test, dry, on every cylinder where the manufacturer's limit is needed: all plugs "
    "out, throttle wide open, charged battery, at least four strokes; note first and last puff.",
    "Turns relative into a pressure; the manufacturer's limit decides. First puff low, builds but "
    "not to normal: rings. Low and does not build: valves or gasket.",
    MAKERS,
)
DRY_DIESEL = WantedTest(
    "gauge_dry",
    "Compression test, dry, on every cylinder where the manufacturer's limit is needed: through "
    "the glow plug or injector hole, injection disabled as the manufacturer specifies; charged "
    "battery, at least 4 strokes; first and last puff.",
    DRY.why,
    MAKERS,
)
WET = WantedTest(
    "gauge_wet",
    "Compression test, wet, on the low cylinders and a good one as control: oil about 1 % of the "
    "swept volume in each (5 ml for 0.5 litre); note before and after.",
    "Judge the rise over the control's rise: oil alone lifts any cylinder. More than the control: "
    "rings or bore. No more: valves or gasket. Not on flat engines and diesels.",
    "vehicle manufacturers' service texts, as an example; share of oil: calculated from the "
    "clearance volume",
)
WASH = WantedTest(
    "wash",
    "Smell and look for fuel-washed bores. If washed, and the valve timing is known to be right: "
    "oil each bore lightly and repeat the compression test.",
    "Washed bores lose compression everywhere and recover with oil.",
    COMMON,
)
WASH_LOOK_ONLY = WantedTest(
    "wash",
    "Smell and look for fuel-washed bores. No oil into the bores of this engine.",
    "Washed bores lose compression everywhere; oil does not reach the whole ring of a flat engine "
    "and can lock a diesel.",
    COMMON,
)
SWAP = WantedTest(
    "swap",
    "Swap test: move the coil, the plug or the injector to another cylinder, write down the "
    "misfire counts before and after, and whether the misfire followed.",
    "Follows the part: the part. Stays: the cylinder or its wiring.",
    COMMON,
)
SWAP_DIESEL = WantedTest(
    "swap",
    "Swap test: move the injector or the glow plug to another cylinder as the manufacturer "
    "specifies (injectors may be coded), write down the counts before and after, and whether the "
    "misfire followed.",
    SWAP.why,
    COMMON,
)
VALVES = WantedTest(
    "valves",
    "Valve clearance of the low or misfiring cylinders; then rocker cover off, lift of each valve "
    "beside a good cylinder's.",
    "A tight valve does not close. A worn lobe, a weak spring or a collapsed lifter does not open "
    "it.",
    COMMON,
)
RUNNING = WantedTest(
    "running",
    "Running compression on the misfiring cylinder and a good one, its injector unplugged and its "
    "coil grounded: idle and snap.",
    "A worn lobe or a blocked port cranks evenly and breathes badly.",
    "a trade text on running compression",
)
BACK_PRESSURE = WantedTest(
    "exhaust",
    "Exhaust back pressure: at most 8.6 kPa at idle and 20.7 kPa at 2000 rpm (typical; the "
    "manufacturer's figure wins).",
    "A blocked exhaust cranks evenly and takes the power from every cylinder.",
    "AERA Technical Committee (engine rebuilders), bulletin on exhaust back pressure: 1.25 and "
    "3 psi; a vehicle manufacturer's check of a restricted exhaust says the same, as an example",
)
BACK_PRESSURE_DIESEL = WantedTest(
    "exhaust",
    "Exhaust back pressure, or the pressure across the particulate filter, at idle and at "
    "2000 rpm against the manufacturer's figures.",
    BACK_PRESSURE.why,
    COMMON,
)
REPEAT = WantedTest(
    "repeat",
    "Repeat the capture cold and hot with the same throttle, and look at the single cycles; write "
    "down the temperature.",
    "A sticking valve or a weak spring shows in some cycles only; a mean hides it.",
    "a trade article on intermittent misfires",
)
REPEAT_AT_ONCE = WantedTest(
    "repeat_at_once",
    "Repeat the capture after a rest of some hours, and again at once.",
    "Low at first only after the rest: a lifter that bleeds down, carbon, or a dry bore.",
    COMMON,
)
