"""What a compression is called in the curve of each signal."""

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

from shopdiag.people.core.words import Text, say
from traces.core.setup import Signal


@dataclass(frozen=True, slots=True)
class HumpWords:
    """How a signal shows a compression."""

    hump: Text
    humps: Text
    needs: Text
    harder: Text
    stands: Text
    has_tops: bool = False


HUMP_WORDS: Mapping[Signal, HumpWords] = MappingProxyType(
    {
        "starter-current": HumpWords(
            say("hump"),
            say("humps"),
            say("the starter needs less current"),
            say("the starter has to pull harder there"),
            say("stands"),
            has_tops=True,
        ),
        "battery-voltage": HumpWords(
            say("dip"),
            say("dips"),
            say("the battery is pulled down less"),
            say("the battery is pulled down further there"),
            say("is"),
        ),
        "crank-teeth": HumpWords(
            say("dip of speed"),
            say("dips of speed"),
            say("the crank slows less"),
            say("the crank slows more there"),
            say("is"),
        ),
    }
)
