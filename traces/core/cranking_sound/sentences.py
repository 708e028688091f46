"""What a cranking sound told, in a sentence or two."""

from collections.abc import Mapping
from types import MappingProxyType

from shopdiag.people.core.words import NOTHING, Text, say
from traces.core.cranking_sound.evenness import Answer, CrankingSound, Reason

_ANSWERS: Mapping[Answer, Text] = MappingProxyType(
    {
        "even": say(
            "The compressions sound even. One that is a little low cannot be heard: the clamp on "
            "the starter cable tells more."
        ),
        "uneven": say(
            "The compressions sound clearly uneven. Take the clamp next: it tells which cylinder "
            "and how low."
        ),
        "cannot-tell": say("The sound does not tell whether the compressions are even."),
    }
)
_REASONS: Mapping[Reason, Text] = MappingProxyType(
    {
        "": NOTHING,
        "low-rate": say("It has too few samples a second: record at 8,000 or more."),
        "silent": say("There is no sound in it: check the microphone and record again."),
        "no-beat": say(
            "No compressions are heard: hold the telephone nearer to the starter, fuel off, and "
            "crank for five seconds without talking."
        ),
        "too-short": say("The steady part is too short: crank for five seconds, fuel off."),
        "noisy": say(
            "The compressions differ too much from turn to turn: record again nearer to the "
            "starter, without voices or a fan, for five seconds and more."
        ),
        "one-in-two": say(
            "A faster crank with every other compression missing sounds the same: a clamp or a "
            "gauge tells them apart."
        ),
    }
)


def heard_words(sound: CrankingSound) -> tuple[Text, Text]:
    """Return what was heard, and what stands against it or is to be done; may be empty."""
    return _ANSWERS[sound.answer], _REASONS[sound.reason]
