"""The tests a work order can ask for: what to do, what it decides, and who says so.

Every text to do fits the line that the printed sheet has for it (`LONGEST_WORDS`).
"""

from dataclasses import dataclass
from pathlib import Path

from engines.core.content import content
from traces.core.plain_json import PlainJson

LONGEST_WORDS = 270


@dataclass(frozen=True, slots=True)
class WantedTest(PlainJson):
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


_WANTED = content(Path(__file__).parent / "texts" / "wanted_tests.toml", WantedTest)

STOP_HIGH = _WANTED["stop_high"]
STOP_HIGH_ANY = _WANTED["stop_high_any"]
EXHAUST_LIFT = _WANTED["exhaust_lift"]
COOLANT = _WANTED["coolant"]
REPEAT_ONCE = _WANTED["repeat_once"]
RESYNC = _WANTED["resync"]
BAR_FOR_DRAG = _WANTED["bar_for_drag"]
BAR_FOR_TIMING = _WANTED["bar_for_timing"]
TIMING = _WANTED["timing"]
CAM_TRACE = _WANTED["cam_trace"]
BANK_GAUGE = _WANTED["bank_gauge"]
BANK_GAUGE_DIESEL = _WANTED["bank_gauge_diesel"]
VACUUM = _WANTED["vacuum"]
LEAK = _WANTED["leak"]
LISTEN = _WANTED["listen"]
LEAK_DIESEL = _WANTED["leak_diesel"]
SCOPE = _WANTED["scope"]
SEATS = _WANTED["seats"]
DRY = _WANTED["dry"]
DRY_DIESEL = _WANTED["dry_diesel"]
WET = _WANTED["wet"]
WASH = _WANTED["wash"]
WASH_LOOK_ONLY = _WANTED["wash_look_only"]
SWAP = _WANTED["swap"]
SWAP_DIESEL = _WANTED["swap_diesel"]
VALVES = _WANTED["valves"]
RUNNING = _WANTED["running"]
BACK_PRESSURE = _WANTED["back_pressure"]
BACK_PRESSURE_DIESEL = _WANTED["back_pressure_diesel"]
REPEAT = _WANTED["repeat"]
REPEAT_AT_ONCE = _WANTED["repeat_at_once"]
