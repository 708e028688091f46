"""What cams told, in sentences: why nothing is read, what is noticed, and what moved."""

from collections.abc import Iterator, Mapping
from types import MappingProxyType

from shopdiag.people.core.words import Text, say
from traces.core.cam_timing.cam_error import CamError, CamTrouble
from traces.core.report import CamFigures, CamPlace, CamsFigures

_MOVES_DEG = 3.0
_UNEVEN_DEG = 1.5
_HALF_PLACE = (0.35, 0.65)
"""Of a place of the crank's wheel: so far all cams seem to move where its sensor is swapped."""

_TROUBLES: Mapping[CamTrouble, Text] = MappingProxyType(
    {
        "wheel": say(
            "The crank channel makes no tooth wheel: {reason}. Choose the crank sensor's channel, "
            "or enter the wheel like 60-2 or 36-2-2-2."
        ),
        "no-mark": say(
            "The crank's wheel has no gap in its {teeth} teeth, so nothing says where a turn "
            "begins. A cam cannot be placed on it."
        ),
        "few-cycles": say(
            "Only {cycles} engine cycles are recorded; {least} are needed. Crank for 5 seconds "
            "with fuel off, or record 5 seconds of idle."
        ),
        "no-edges": say(
            "Channel {channel} shows no cam: it has no edge in most engine cycles. Check its "
            "sensor's supply and leads, or choose another channel."
        ),
        "no-pattern": say(
            "The edges of channel {channel} do not come back every two turns of the crank. Choose "
            "the cam sensor's channel; if it is that, check its sensor, its gap and its leads."
        ),
        "many-edges": say(
            "Channel {channel} has as many edges as a crank's wheel: choose the cam sensor's."
        ),
        "other-wheel": say(
            "The crank's wheel is {wheel} here and {good} in the known-good recording: they are "
            "not of one engine, or one of them was recorded with the leads swapped."
        ),
        "other-pattern": say(
            "The cam edges here and in {file} do not follow one pattern: another engine or sensor "
            "wheel, the cams in another order, or a sensor's leads swapped."
        ),
        "other-state": say(
            "One recording was cranked and the other idles. A phaser and a coil's sensor stand "
            "elsewhere then: lay cranking beside cranking, or idle beside idle."
        ),
        "far": say(
            "A cam lies {degrees}° from where it lies in {file}, farther than a chain jumps. "
            "Check that the recording is of the same engine, and that the channels are right."
        ),
        "several-ways": say(
            "The wheel looks the same several times a turn, and the cams lie on {file} in more "
            "than one way. Nothing tells which one is true."
        ),
    }
)

_MOVED: Mapping[CamPlace, Text] = MappingProxyType(
    {
        "none": say("Every cam is where it is in the known-good recording."),
        "one-cam": say(
            "One cam moved and the others did not. Look at its sprocket, the bolt and pin that "
            "hold it, its phaser, and the wheel of its sensor."
        ),
        "bank": say(
            "The cams of bank {bank} moved alike and the others did not. Look at the chain or belt "
            "of that bank, its tensioner and guides."
        ),
        "intake": say(
            "The intake cams moved and the exhaust cams did not. Look at what drives the intake "
            "cams, and at their phasers and oil supply."
        ),
        "exhaust": say(
            "The exhaust cams moved and the intake cams did not. Look at what drives the exhaust "
            "cams, and at their phasers and oil supply."
        ),
        "all": say(
            "Every cam moved alike. Look at the crank's sprocket, its key and the chain or belt "
            "common to all of them, and at the wheel of the crank sensor."
        ),
        "mixed": say(
            "Some cams moved, and not alike. Check that the known-good recording is of the same "
            "engine; then look at chains, tensioners and phasers."
        ),
        "open": say(
            "A shift as small as this may be the sensors'. Record both again in the same way: same "
            "speed, same oil temperature, 5 seconds and more."
        ),
    }
)

CAUTION = say(
    "Where the timing is in doubt, do not crank again: on an interference engine pistons meet the "
    "valves. Bar the engine over two turns by hand, in its direction of rotation, and stop at any "
    "contact. The manufacturer's procedure decides."
)


def trouble_words(error: CamError) -> Text:
    """Return why a recording shows no cam against the crank, and what to do."""
    return _TROUBLES[error.trouble].filled(**error.figures)


def moved_words(figures: CamsFigures) -> Iterator[Text]:
    """Yield what moved, what to do about it, and what it is not sure of."""
    if figures.moved is None:
        return
    yield _MOVED[figures.moved].filled(bank=figures.moved_bank)
    if figures.moved == "all" and _by_half_a_place(figures):
        yield say(
            "They moved by half a tooth of the crank's wheel: a crank sensor with its leads "
            "swapped looks the same. Check that first."
        )
    if figures.moved not in ("none", "open"):
        yield CAUTION


def noticed_words(figures: CamsFigures) -> Iterator[Text]:
    """Yield what limits trust in the figures."""
    if figures.wheel_repeats_deg < 360.0:
        yield say(
            "The wheel looks the same every {degrees}°: angles are counted from one of its gaps, "
            "and nothing says which.",
            degrees=f"{figures.wheel_repeats_deg:.0f}",
        )
    for cam in figures.cams:
        yield from _noticed(cam)


def _noticed(cam: CamFigures) -> Iterator[Text]:
    if cam.moves_deg > _MOVES_DEG:
        yield say(
            "{cam} wanders by {degrees}° within the recording: a phaser at work, a slack chain, or "
            "a sensor that switches late at low speed. Record at a steady speed.",
            cam=cam.name,
            degrees=f"{cam.moves_deg:.0f}",
        )
    if cam.beside and cam.beside.uneven_deg > _UNEVEN_DEG:
        yield say(
            "The edges of {cam} did not all move alike (standard deviation {degrees}°): look at "
            "the wheel of its sensor.",
            cam=cam.name,
            degrees=f"{cam.beside.uneven_deg:.1f}",
        )


def _by_half_a_place(figures: CamsFigures) -> bool:
    a_place = 360.0 / int(figures.wheel.partition("-")[0].partition("+")[0])
    low, high = (share * a_place for share in _HALF_PLACE)
    return all(cam.beside and low < abs(cam.beside.later_deg.value) < high for cam in figures.cams)
