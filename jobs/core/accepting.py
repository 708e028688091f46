"""When a verdict of the analysis may be accepted as it is."""

from shopdiag.people.core.words import gettext as _


def why_not_accepted(verdict: str | None, drive: str) -> str | None:
    """Return why a run's verdict cannot be accepted, as one sentence; None where it can.

    Parameters
    ----------
    verdict
        Of the run's report; None where it has none.
    drive
        How the engine is cranked: `starter`, `belt` or `traction`.
    """
    if drive == "traction":
        return _(
            "This vehicle is cranked by its drive motor, so no verdict from starter "
            "current can be accepted; decide in your own words."
        )
    if verdict is None or verdict == "not judged":
        return _(
            "This capture was not judged, so there is no verdict to accept; overrule "
            "it with your reason, or decide without a capture."
        )
    if verdict == "measured":
        return _(
            "One cylinder alone was measured, so there is no verdict to accept; name the cylinder "
            "with your reason."
        )
    return None


def why_overruled(verdict: str, mechanical: str, *, is_bank_weaker: bool = False) -> str | None:
    """Return why an answer contradicts the verdict it would accept; None where it does not.

    Parameters
    ----------
    verdict
        Of the run's report: `even` or `uneven`.
    mechanical
        Whether a compression fault was found: `yes`, `no` or `unsure`.
    is_bank_weaker
        Whether a whole bank is low, which a compression fault explains without a cylinder.
    """
    if verdict == "uneven" and mechanical == "no":
        return _(
            "The capture names a weak cylinder, so that “no compression fault found” "
            "does not accept its verdict; overrule it with your reason, or choose "
            "“not settled”."
        )
    if verdict == "even" and mechanical == "yes" and not is_bank_weaker:
        return _(
            "The capture names no weak cylinder, so that “compression fault” does "
            "not accept its verdict; overrule it with your reason, or choose “not "
            "settled”."
        )
    return None
