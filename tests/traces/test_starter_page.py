"""Starter and battery figures where people and programs read them."""

import json
import re
from dataclasses import replace

import numpy as np
import pytest
from django.core.management import call_command
from django.test import Client
from django.urls import reverse

from shopdiag.people.services import token_create
from tests.traces.core.starter.circuit import Circuit
from tests.wording import says
from traces.core.readers import read
from traces.models import Run
from traces.runs.analysing import run_analyse
from traces.services import run_add


def _csv(circuit: Circuit) -> bytes:
    channels = circuit.waveform().channels
    rows = np.column_stack([circuit.time_s, *(c.values for c in channels)])
    lines = (",".join(f"{v:.5f}" for v in row) for row in rows)
    return ("Time,clamp,coil,battery\n(s),(V),(V),(V)\n" + "\n".join(lines) + "\n").encode()


@pytest.fixture
def run(add_read, cast, engine):
    def made(circuit: Circuit | None = None, **changes) -> Run:
        circuit = circuit or Circuit(rate_hz=1000.0)
        analysis = circuit.setup(**changes)
        found = run_add(
            member=cast.diagnostician,
            capture=add_read(_csv(circuit)),
            analysis=analysis,
            engine=engine,
        )
        assert run_analyse(found.pk)
        found.refresh_from_db()
        return found

    return made


@pytest.fixture
def shown(client_for, cast):
    def made(run: Run) -> str:
        address = reverse("traces:run", args=[run.capture_id, run.pk])
        text = client_for(cast.mechanic).get(address).content.decode()
        return re.sub(r"\s+", " ", text)

    return made


def test_the_page_shows_figures_with_typical_ones_beside_them(run, shown):
    page = shown(run())
    assert "Starter and battery" in page
    for words in (
        "160 A over 7 engine cycles",
        "220 rpm",
        "Source resistance, from the ripple",
        "as typical",
        "Typical figures and their sources",
        "manufacturer&#x27;s figure wins",
        "with the probe on the terminals the battery&#x27;s own",
    ):
        assert words in page
    assert not says(page, "starter.not-known-from-recording")


def test_a_figure_outside_says_what_to_check_next_and_condemns_nothing(run, shown):
    page = shown(run(Circuit(rate_hz=1000.0, mean_a=240.0, ripple_a=60.0, inrush_a=700.0)))
    assert "above typical" in page
    assert says(page, "starter.typical", label="Mean cranking current", lies="above")
    assert says(page, "starter.what-look-next-common")


def test_what_is_not_known_is_said_with_its_reason(run, shown):
    page = shown(run(voltage_channel=None))
    assert says(page, "starter.not-known-from-recording")
    assert says(page, "battery_voltage.no-battery-voltage-recorded")


def test_a_capture_that_is_not_judged_has_its_starter_figures(run, shown):
    found = run(Circuit(rate_hz=1000.0, crank_s=1.6, after_s=0.6))
    assert found.verdict == "not judged"
    assert "Starter and battery" in shown(found)


def test_a_result_from_before_these_figures_still_opens(run, shown):
    found = run()
    older = {k: v for k, v in found.result.items() if k != "starter"}
    Run.objects.filter(pk=found.pk).update(result=older)
    page = shown(found)
    assert "Relative only" in page
    assert "Starter and battery" not in page


def test_programs_read_them_over_http(run, cast):
    found = run()
    _, key = token_create(member=cast.mechanic, label="test")
    answer = Client(headers={"Authorization": f"Token {key}"}).get(f"/api/runs/{found.pk}/").json()
    starter = answer["result"]["starter"]
    assert starter["mean_current_a"] == pytest.approx(160.0, rel=0.01)
    assert starter["ripple_resistance_mohm"] == pytest.approx(6.0, rel=0.02)
    assert {n["figure"] for n in starter["notes"]} >= {"mean_current_a", "cranking_rpm"}


def test_the_command_prints_them_as_text_and_json(tmp_path, capsys):
    path = tmp_path / "crank.csv"
    circuit = Circuit(rate_hz=1000.0)
    path.write_bytes(_csv(circuit))
    assert len(read(path, name="crank.csv").waveform.channels) == 3
    given = [
        str(path),
        "--firing-order=1-3-4-2",
        "--current-channel=clamp",
        "--mv-per-a=10",
        "--sync-channel=coil",
        "--sync-cylinder=1",
        "--sync-event=ignition",
        "--voltage-channel=battery",
    ]
    call_command("balance", *given)
    text = capsys.readouterr().out
    assert "Starter and battery:" in text
    assert says(text, "starter-words.over-engine-cycles", amps=160, cycles=7)
    assert says(text, "typical.typical-manufacturer-figure-wins")
    call_command("balance", *given, "--json")
    starter = json.loads(capsys.readouterr().out)["starter"]
    assert starter["rest_v"] == pytest.approx(12.6, abs=0.02)
    assert starter["not_known"] == {}


def test_a_file_that_cannot_be_read_has_no_starter_figures(tmp_path, capsys):
    path = tmp_path / "crank.csv"
    path.write_text("nothing\n")
    with pytest.raises(SystemExit):
        call_command(
            "balance",
            str(path),
            "--firing-order=1-3-4-2",
            "--current-channel=clamp",
            "--mv-per-a=10",
            "--json",
        )
    assert json.loads(capsys.readouterr().out)["starter"] is None


def test_mid_crank_is_told_on_the_page(run, shown):
    circuit = Circuit(rate_hz=1000.0)
    page = shown(run(replace(circuit, rest_s=0.0)))
    assert says(page, "sheet.recording-begins-mid-crank")
