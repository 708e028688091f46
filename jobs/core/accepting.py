"""When a verdict of the analysis may be accepted as it is."""


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
        return (
            "This vehicle is cranked by its drive motor, so no verdict from starter current can be "
            "accepted; decide in your own words."
        )
    if verdict is None or verdict == "not judged":
        return (
            "This capture was not judged, so there is no verdict to accept; "
            "overrule it with your reason, or decide without a capture."
        )
    return None
