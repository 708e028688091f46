"""Find a channel by what a person, a program or a manifest calls it."""

from collections.abc import Sequence
from string import ascii_lowercase


def index_of_channel(names: Sequence[str], wanted: str) -> int | None:
    """Return the index of a channel by its name or, failing that, by its number from 1.

    Channels of a file without names are numbered. Letters are taken for numbers there, because
    manifests and set-ups name the channels of a sound file by letters.

    Parameters
    ----------
    names
        Of the file's channels, in its order.

    Returns
    -------
    None where there is no such channel.
    """
    asked = wanted.strip().casefold()
    for i, name in enumerate(names):
        if name.casefold() == asked:
            return i
    if asked.isdecimal():
        at = int(asked) - 1
    elif len(asked) == 1 and all(name == str(i) for i, name in enumerate(names, start=1)):
        at = ascii_lowercase.find(asked)
    else:
        return None
    return at if 0 <= at < len(names) else None
