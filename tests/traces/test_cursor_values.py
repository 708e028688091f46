"""What is read at the cursors of a curve."""

import json
from collections.abc import Callable

import pytest
from django.test import Client
from django.urls import reverse

from shopdiag.people.models import Member
from tests.conftest import Cast
from tests.traces.conftest import csv_bytes
from traces.models import Capture, Run
from traces.selectors.cursor_values import Cursors, reading_values, run_values

ClientFor = Callable[[Member], Client]


class TestAtTheCursors:
    def test_a_run_is_read_in_amps_and_upright(self, run: Run) -> None:
        reading = run.reading
        raw = reading_values(reading, Cursors(1.0, 1.25))["channels"][0]
        found = run_values(run, Cursors(1.0, 1.25))
        row = found["channels"][0]
        assert row["unit"] == "A"
        # 10 mV/A and a clamp that sat reversed, as the reference's manifest says
        for name in ("a", "b", "mean", "difference"):
            assert row[name] == pytest.approx(-100 * raw[name], rel=1e-6)
        assert row["minimum"] == pytest.approx(-100 * raw["maximum"])
        assert row["maximum"] == pytest.approx(-100 * raw["minimum"])
        assert found["channels"][1]["name"] == "sync (coil)"

    def test_one_cursor_has_a_value_and_no_difference(self, run: Run) -> None:
        row = run_values(run, Cursors(a_s=1.0))["channels"][0]
        assert isinstance(row["a"], float)
        assert row["b"] is row["difference"] is None
        assert "mean" not in row

    def test_a_gap_has_no_value(self, add_read: Callable[..., Capture]) -> None:
        lines = csv_bytes().decode().splitlines()
        at_s, _, b = lines[502].split(",")
        lines[502] = f"{at_s},,{b}"
        capture = add_read("\n".join(lines).encode())
        row = reading_values(capture.reading, Cursors(float(at_s), 0.7))["channels"][0]
        assert row["a"] is row["difference"] is None
        assert row["minimum"] is not None

    @pytest.mark.parametrize("query", [{"a": "x"}, {"a": "1", "b": "nan"}, {"b": "1e999"}])
    @pytest.mark.parametrize("name", ["values", "run-values"])
    def test_no_time_gets_a_sentence(
        self, run: Run, client_for: ClientFor, cast: Cast, query: dict[str, str], name: str
    ) -> None:
        numbers_ = [run.capture_id, run.pk] if name == "run-values" else [run.capture_id]
        answer = client_for(cast.mechanic).get(reverse(f"traces:{name}", args=numbers_), query)
        assert answer.status_code == 400
        assert json.loads(answer.content)["error"].endswith(".")
