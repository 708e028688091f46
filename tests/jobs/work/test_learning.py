"""What a shop learns from its own results: which count, which do not, and who reads it."""

import csv
from io import StringIO

import pytest
from django.urls import reverse

from jobs.core.proportion import Proportion
from jobs.models import CylinderFinding, Outcome, Visit, VisitCapture
from jobs.selectors import learning
from jobs.selectors.learning import learned_line, learning_of
from jobs.services.findings import NewFinding, finding_add
from jobs.services.work import work_order_accept, work_order_create
from shopdiag.people.core.roles import Role
from tests.jobs.work.conftest import make_judgement, make_run
from tests.wording import says, says_only

LOW_3 = {1: 1.0, 2: 1.0, 3: 0.57, 4: 1.0}


def finding(cylinder, test, outcome) -> NewFinding:
    """Return a finding with a figure that fits its outcome."""
    is_bad = outcome == "bad"
    return NewFinding(
        cylinder,
        test,
        outcome,
        pressure_kpa=(620 if is_bad else 1_200) if test == "gauge_dry" else None,
        leak_percent=(60 if is_bad else 8) if test == "leak_down" else None,
        idle_kpa=(200 if is_bad else 420) if test == "running" else None,
        words="As seen.",
        confirmed=True,
    )


@pytest.fixture
def measure(cast):
    """Record tests of a kind on an order, by cylinder."""

    def done(order, test="gauge_dry", **by_outcome):
        if order.state == order.State.OPEN:
            order = work_order_accept(order=order, member=cast.mechanic)
        rows = []
        for outcome, cylinders in by_outcome.items():
            for cylinder in cylinders:
                found = finding(cylinder, test, outcome)
                rows.append(finding_add(order=order, member=cast.mechanic, found=found))
        return rows

    return done


@pytest.fixture
def job(cast, take_in, four):
    """Make an order of another job of the same engine, signed on a capture."""

    def make(member=cast.diagnostician, engine=four, relative=LOW_3, **given):
        visit = take_in(member, engine=engine)
        run = make_run(member, visit, relative, **given)
        judgement = make_judgement(member, visit, run, reason="The counts point at it.")
        return work_order_create(judgement=judgement, member=member)

    return make


def rate(cast):
    found = learning_of(cast.owner).overall
    return found.suspect, found.watch, found.sound


NONE = Proportion(0, 0)


def test_gauge_and_leak_down_check_calls(cast, order, measure):
    assert rate(cast) == (NONE, NONE, NONE)
    measure(order, bad=[3], good=[1, 2])
    assert rate(cast) == (Proportion(1, 1), NONE, Proportion(2, 2))
    measure(order, "leak_down", bad=[2])  # bad in one test is bad
    assert rate(cast) == (Proportion(1, 1), NONE, Proportion(1, 2))


def test_a_cylinder_counts_once_however_often_it_was_measured(cast, order, measure):
    measure(order, good=[3])
    measure(order, bad=[3])
    measure(order, "leak_down", bad=[3])
    assert rate(cast)[0] == Proportion(1, 1)


def test_a_correction_takes_the_place_of_what_it_corrects(cast, order, measure):
    (first,) = measure(order, bad=[3])
    corrected = finding(3, "gauge_dry", "good")
    finding_add(order=order, member=cast.mechanic, found=corrected, replaces=first)
    assert CylinderFinding.objects.count() == 2
    assert rate(cast)[0] == Proportion(0, 1)


@pytest.mark.parametrize("test", ["borescope", "running", "coil"])
def test_other_tests_check_no_call(cast, order, measure, test):
    measure(order, test, bad=[3])
    assert rate(cast)[0] == NONE


@pytest.mark.parametrize("outcome", ["ambiguous", "not_done"])
def test_what_settles_nothing_checks_nothing(cast, order, outcome):
    work_order_accept(order=order, member=cast.mechanic)
    finding_add(order=order, member=cast.mechanic, found=finding(3, "leak_down", outcome))
    assert rate(cast)[0] == NONE


def test_what_the_repairs_order_measures_tells_how_the_engine_is_now(cast, order, measure):
    measure(order, bad=[3])
    repair = _repair_order(cast, order)
    measure(repair, good=[3])
    assert rate(cast)[0] == Proportion(1, 1)


def _repair_order(cast, order):
    from jobs.services.completion import work_order_complete  # noqa: PLC0415
    from jobs.services.consent import SaidOnRepair, consent_add  # noqa: PLC0415

    order.refresh_from_db()
    work_order_complete(order=order, member=cast.mechanic, summary="Valve.", left_out="Clear.")
    said = SaidOnRepair(agreed=True, said_by="Casey", how="phone", amount="400", scope="Valve")
    consent_add(visit=order.visit, member=cast.writer, said=said)
    return work_order_create(judgement=order.judgement, member=cast.diagnostician)


def test_captures_after_the_repair_or_set_aside_are_no_calls(cast, order, measure):
    measure(order, bad=[3])
    tie = order.visit.visit_captures.get()
    for changed in ({"purpose": "verification"}, {"purpose": "diagnosis", "aside_why": "Slipped."}):
        VisitCapture.objects.filter(pk=tie.pk).update(**changed)
        assert rate(cast)[0] == NONE


def test_where_it_is_open_which_is_low_nothing_is_checked(cast, job, measure):
    order = job(candidates=[(3,), (2,)])
    measure(order, bad=[3], good=[1])
    assert rate(cast) == (NONE, NONE, NONE)


def test_a_capture_without_numbers_checks_nothing(cast, job, measure):
    order = job(known=False)
    measure(order, bad=[3])
    assert rate(cast) == (NONE, NONE, NONE)


def test_a_verdict_without_a_run_is_held_by_the_newest_capture(
    cast, triaged, run_of, sign, measure
):
    run_of(triaged, LOW_3)
    judgement = sign(triaged, None, [3], kind="without", reason="By ear.")
    measure(work_order_create(judgement=judgement, member=cast.diagnostician), bad=[3])
    assert rate(cast)[0] == Proportion(1, 1)


def test_engines_and_signals_are_told_apart(cast, order, job, measure):
    measure(order, bad=[3])
    measure(job(engine=None), good=[3])
    learned = learning_of(cast.owner)
    rates = {(row.rate.suspect.count, row.rate.suspect.total) for row in learned.engines}
    assert rates == {(1, 1), (0, 1)}
    (signal,) = learned.signals
    assert signal.rate.suspect == Proportion(1, 2)


def test_nothing_leaves_the_shop(cast, order, measure, job, four):
    theirs = job(member=cast.outsider, engine=None)
    work_order_accept(order=theirs, member=cast.outsider)
    found = finding(3, "leak_down", "good")
    finding_add(order=theirs, member=cast.outsider, found=found)
    Visit.objects.filter(pk=theirs.visit_id).update(stage="closed")
    measure(order, bad=[3])
    assert rate(cast)[0] == Proportion(1, 1)
    assert learning_of(cast.owner).finished == 0
    elsewhere = learning_of(cast.outsider)
    assert elsewhere.overall.suspect == Proportion(0, 1)
    assert elsewhere.finished == 1


def test_causes_count_delivered_jobs_and_repairs_that_hold(cast, order, ignition, take_in):
    def causes():
        found = learning_of(cast.owner).causes
        return [(row.count.group, row.count.found, row.count.proven) for row in found]

    visit = ignition.visit
    assert causes() == []
    Visit.objects.filter(pk=visit.pk).update(stage="closed")
    assert causes() == [("ignition", Proportion(1, 1), 0)]
    Outcome.objects.create(visit=visit, verified="yes")
    assert causes() == [("ignition", Proportion(1, 1), 1)]
    again = take_in(cast.writer, vehicle=visit.vehicle, customer=visit.vehicle.customer)
    Visit.objects.filter(pk=again.pk).update(comeback_of=visit)
    assert causes() == [("ignition", Proportion(1, 1), 0)]
    # delivered without a settled verdict it is one more job without a cause
    Visit.objects.filter(pk=again.pk).update(stage="closed")
    assert causes() == [("ignition", Proportion(1, 2), 0)]


@pytest.fixture
def five(cast, job, measure):
    """Five jobs whose suspect cylinder was found bad, and two that were called good found good."""
    orders = [job() for _ in range(5)]
    for order in orders:
        measure(order, bad=[3], good=[1])
    return orders


def test_a_capture_says_how_such_calls_fared(cast, five, take_in, four, client_for):
    visit = take_in(cast.writer, engine=four)
    uneven, even = (make_run(cast.diagnostician, visit, figures) for figures in (LOW_3, None))
    line = learned_line(cast.diagnostician, visit, uneven)
    # of 5 that all held, Wilson's interval begins at 57 %
    assert says_only(line, "learning.suspect-own", count=5, total=5, low=57, high=100)
    assert learned_line(cast.mechanic, visit, uneven) == ""
    assert says(learned_line(cast.diagnostician, visit, even), "learning.suspect-own")
    sound = make_run(cast.diagnostician, visit, dict.fromkeys(range(1, 5), 1.0))
    assert says_only(
        learned_line(cast.diagnostician, visit, sound),
        "learning.good-own",
        count=5,
        total=5,
        low=57,
        high=100,
    )
    other = take_in(cast.writer)
    elsewhere = make_run(cast.diagnostician, other, LOW_3)
    assert says(learned_line(cast.diagnostician, other, elsewhere), "learning.suspect-any")
    for name, on in (("capture", sound.capture_id), ("decide", visit.pk)):
        page = client_for(cast.diagnostician).get(reverse(f"jobs:{name}", args=[on]))
        assert 'id="learned"' in page.content.decode()


def test_the_line_looks_at_the_newest_jobs_only(cast, five, take_in, four, monkeypatch):
    visit = take_in(cast.writer, engine=four)
    run = make_run(cast.diagnostician, visit, LOW_3)
    monkeypatch.setattr(learning, "MOST_BESIDE", len(five) - 1)
    assert learned_line(cast.diagnostician, visit, run) == ""
    assert learning_of(cast.owner).overall.suspect == Proportion(5, 5)
    monkeypatch.setattr(learning, "MOST_BESIDE", len(five))
    assert learned_line(cast.diagnostician, visit, run)


@pytest.fixture
def of_another_engine(five, job, measure):
    """A later job whose engine nobody chose."""
    return measure(job(engine=None), bad=[3])


@pytest.mark.usefixtures("of_another_engine")
def test_jobs_of_other_engines_do_not_take_the_place_of_this_ones(
    cast, five, take_in, four, monkeypatch
):
    visit = take_in(cast.writer, engine=four)
    run = make_run(cast.diagnostician, visit, LOW_3)
    monkeypatch.setattr(learning, "MOST_BESIDE", len(five))
    line = learned_line(cast.diagnostician, visit, run)
    assert says(line, "learning.suspect-own", count=5, total=5, low=57, high=100)


def test_a_jobs_own_results_do_not_confirm_it(cast, five):
    own = five[0]
    run = own.judgement.run
    assert learned_line(cast.diagnostician, own.visit, run) == ""


def test_page_and_files_hold_the_figures(cast, client_for, five, ignition):
    Visit.objects.filter(pk=ignition.visit_id).update(stage="closed")
    client = client_for(cast.owner)
    assert client.get(reverse("jobs:learning")).context["learned"].overall.suspect.count == 5
    rows = {}
    for name in ("calls", "causes"):
        answer = client.get(reverse(f"jobs:learning-{name}-csv"))
        rows[name] = list(csv.reader(StringIO(answer.content.decode("utf-8-sig"))))[1:]
    assert rows["calls"] == [["Bench four", "Cranking current", "5", "5", "0", "0", "5", "5"]]
    assert rows["causes"][0][2:5] == ["1", "1", "0"]


@pytest.mark.parametrize("name", ["learning", "learning-calls-csv", "learning-causes-csv"])
def test_who_reads_it(cast, client_for, name):
    for role, member in cast.by_role.items() if hasattr(cast, "by_role") else ():
        expected = 200 if role in {Role.OWNER, Role.DIAGNOSTICIAN} else 403
        assert client_for(member).get(reverse(f"jobs:{name}")).status_code == expected
    for member, expected in ((cast.owner, 200), (cast.diagnostician, 200), (cast.mechanic, 403)):
        assert client_for(member).get(reverse(f"jobs:{name}")).status_code == expected
    assert client_for(cast.writer).get(reverse(f"jobs:{name}")).status_code == 403
