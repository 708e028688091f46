"""Which cylinders a hump may be of, where its number is not known."""

import pytest

from traces.core.report import Estimate, Report, fitting_cylinders

ORDER = (1, 5, 3, 6, 2, 4)


def _report(candidates, low=(6,), known=False) -> Report:
    return Report(
        verdict="uneven",
        candidates=candidates,
        cylinders_known=known,
        estimates=tuple(
            Estimate(p, None, 1.0, 0.9, 1.1, "suspect" if p in low else "sound")
            for p in range(1, 7)
        ),
    )


@pytest.mark.parametrize(
    ("report", "fitting"),
    [
        # the sixth hump is cylinder 1 or 5: the one before it is 4 or 1, and so on round
        (
            _report(((5,), (1,))),
            {1: (3, 5), 2: (3, 6), 3: (2, 6), 4: (2, 4), 5: (1, 4), 6: (1, 5)},
        ),
        (_report(((1, 5),), low=(1, 2)), {1: (1,), 2: (5,), 3: (3,), 4: (6,), 5: (2,), 6: (4,)}),
        # nothing is left out where all fit, or a set is of another order than this one
        (_report(tuple((c,) for c in ORDER)), {}),
        (_report(((1, 3),), low=(1, 2)), {}),
        (_report(((),), low=()), {}),
        (_report(((5,),), known=True), {}),
    ],
)
def test_only_what_a_set_allows_fits(report: Report, fitting: dict) -> None:
    assert fitting_cylinders(report, ORDER) == fitting
