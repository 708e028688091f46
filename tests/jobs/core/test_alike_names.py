import pytest
from hypothesis import given
from hypothesis import strategies as st

from jobs.core.alike_names import MAX_ALIKE, names_alike

NAMES = {1: "Ines Calloway", 2: "Jorun Halloway", 3: "Jo O'Meyer", 4: "Örsolya Ängström", 5: ""}


@pytest.mark.parametrize(
    ("typed", "found"),
    [
        ("Caloway", [1, 2]),
        ("haloway", [2, 1]),
        ("Caloway, Ines", [1]),
        ("jo caloway", [2]),
        ("ja caloway", []),
        ("inez", [1]),
        ("jo", []),
        ("omeier", [3]),
        ("angstrom", [4]),
        ("Angstroem", [4]),
        ("Orsolja", [4]),
        ("callow", [1]),
        ("caloway 2", []),
        ("nobody", []),
        ("", []),
        ("a b c d e", []),
    ],
)
def test_names_spelled_nearly_so_are_found_the_closest_first(typed, found):
    assert names_alike(typed, NAMES) == found


def test_of_many_alike_the_first_are_kept():
    assert names_alike("Calloway", dict.fromkeys(range(50), "Calloway")) == list(range(MAX_ALIKE))


@given(st.text(max_size=60), st.dictionaries(st.integers(), st.text(max_size=30), max_size=8))
def test_any_text_is_compared(typed, names):
    assert set(names_alike(typed, names)) <= set(names)
