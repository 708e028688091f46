"""The headline names what is to be watched, too."""

from dataclasses import replace

from tests.wording import says, says_only
from traces.core.findings.findings import Finding
from traces.core.report.results import Estimate, Report
from traces.core.report.wording import verdict_words


def report(*, known: bool) -> Report:
    relative = {1: 0.86, 3: 1.0, 4: 1.01, 2: 0.99}
    return Report(
        verdict="even",
        cylinders_known=known,
        candidates=((),),
        estimates=tuple(
            Estimate(
                position=place,
                cylinder=cylinder if known else None,
                relative=value,
                low=value - 0.03,
                high=value + 0.03,
                call="watch" if value < 0.88 else "sound",
            )
            for place, (cylinder, value) in enumerate(relative.items(), start=1)
        ),
    )


def test_an_even_verdict_names_the_cylinder_to_watch() -> None:
    verdict = verdict_words(report(known=True))
    assert says(verdict, "wording.even-no-weak-cylinder")
    assert says_only(verdict, "wording.watch", which="cylinder 1")


def test_a_verdict_on_wide_intervals_says_how_far_it_reaches() -> None:
    uncertain = Finding("too-uncertain", "warn")
    told = verdict_words(replace(report(known=True), findings=(uncertain,)))
    assert says(told, "wording.even-far-recording-can")
    assert says_only(told, "wording.watch", which="cylinder 1")


def test_without_numbers_it_names_the_place() -> None:
    verdict = verdict_words(report(known=False))
    assert says_only(verdict, "wording.watch", which="place A")
