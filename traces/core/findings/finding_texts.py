"""The sentences of findings: what was noticed, and what to do about it."""

from dataclasses import replace

from traces.core.findings.findings import Finding, Severity
from traces.core.findings.hand_finding_texts import HAND_TEXTS
from traces.core.findings.high_finding_texts import HIGH_TEXTS
from traces.core.findings.plug_finding_texts import PLUG_TEXTS
from traces.core.findings.sync_finding_texts import BAR_OVER, SYNC_TEXTS

# code: (severity, message, remedy); {figures} are filled in where the finding arises
_TEXTS: dict[str, tuple[Severity, str, str]] = {
    "no-signal": (
        "stop",
        "The clamp's channel shows no cranking current ({level}).",
        "Switch the clamp on, check its lead and the channel, and record a crank again.",
    ),
    "wrong-conductor": (
        "stop",
        "Only {level} flowed and no compressions show in it; a starter draws far more.",
        "Put the clamp around the whole starter feed, or all battery negative cables together, "
        "and record again.",
    ),
    "clipped": (
        "stop",
        "The current is cut off at {level}: the tops of the humps are missing.",
        "Choose a larger clamp or input range, demagnetise and zero the clamp, and record again.",
    ),
    "too-short": (
        "stop",
        "Only {cycles} engine cycles of steady cranking are in the capture; it takes {needed}.",
        "Crank steadily for 5 to 10 seconds and record all of it.",
    ),
    "too-long": (
        "stop",
        "The recording lasts {hours} hours, which is too long to look for a crank in.",
        "Save the stretch around the cranking alone; if it is shorter than that, correct the "
        "sample rate.",
    ),
    "engine-caught": (
        "stop",
        "The engine began to run: current and humps fall away at {at}, after {cycles} cycles.",
        "Disable the fuel as the manufacturer specifies, so that the engine cannot start, then "
        "record again.",
    ),
    "engine-caught-late": (
        "warn",
        "The engine began to run at {at}; only the cranking before it is judged.",
        "Disable the fuel as the manufacturer specifies before the next capture.",
    ),
    "unsteady": (
        "stop",
        "Cranking is too uneven from cycle to cycle to compare cylinders{why}.",
        "Check the number of cylinders entered. Charge the battery, switch off charger and loads, "
        "and crank again without a break. If compressions come and go or the crank binds, do not "
        "crank again; " + BAR_OVER,
    ),
    "low-rate": (
        "stop",
        "The capture has only {rate} samples a second; that is too few to see each hump.",
        "Record at 1000 samples a second or more.",
    ),
    "coarse-rate": (
        "warn",
        "The capture has only {rate} samples a second, so humps are seen coarsely.",
        "Record at 1000 samples a second or more.",
    ),
    "coarsest-steps": (
        "stop",
        "The recorder's steps of {step} are too coarse for humps of {hump}.",
        "Choose a smaller input range, so that the humps fill more of it, and record again.",
    ),
    "coarse-steps": (
        "warn",
        "The recorder's steps of {step} are coarse for humps of {hump}: shapes are seen roughly.",
        "Choose a smaller input range, so that the humps fill more of it, and record again.",
    ),
    "hump-mismatch": (
        "stop",
        "The humps do not fit an engine with {cylinders} cylinders{why}.",
        "Check firing order and number of cylinders, then analyse again. If they are right, "
        "cylinders or a whole bank may be without compression: do not crank again until the valve "
        "timing is known to be right; " + BAR_OVER,
    ),
    "angles-unlikely": (
        "stop",
        "The compressions come where an engine that fires {likelier} degrees apart would have "
        "them, not one that fires {entered} degrees apart as entered.",
        "Look up the firing angles of this engine, correct them, and analyse again.",
    ),
    "angles-doubted": (
        "warn",
        "An engine that fires {likelier} degrees apart would show nearly the same current as the "
        "one entered, which fires {entered} degrees apart.",
        "Confirm the firing angles of this engine before you act on the verdict.",
    ),
    "sync-mismatch": (
        "stop",
        "The sync events do not fit the engine: {why}.",
        "Check the sync channel, its cylinder and how often it fires, or analyse without sync.",
    ),
    "method-does-not-apply": (
        "stop",
        "The engine is cranked by its drive motor, so there is no starter current to judge.",
        "Take no verdict from this capture; test compression as the manufacturer specifies. Orange "
        "cables are for trained and authorised people only.",
    ),
    "speed-implausible": (
        "warn",
        "With {cylinders} cylinders these humps mean {rpm} revolutions a minute; starters "
        "typically reach 180 to 330.",
        "Check the number of cylinders: without a sync, more of them at a lower speed look alike.",
    ),
    "speed-low": (
        "warn",
        "With {cylinders} cylinders these humps mean only {rpm} revolutions a minute. If the crank "
        "sounded about twice as fast, every other compression is missing, as with a dead bank.",
        "Record a sync event, which counts the turns. If the crank sounded fast and light, do not "
        "crank again until the valve timing is known to be right; " + BAR_OVER,
    ),
    "poor-fit": (
        "stop",
        "The humps do not have the shape that compressions make; {share} % of it is explained.",
        "Check the engine entered, and that nothing else drew current, then record again.",
    ),
    "poor-fit-rough": (
        "stop",
        "The fitted engine misses the humps by {missed} % of the mean; up to {most} % is usual.",
        "Check the engine entered, and that nothing else drew current, then record again.",
    ),
    "poor-fit-strange": (
        "stop",
        "Only an engine and a starter unlike any real ones would make these humps.",
        "Check the engine entered, and that nothing else drew current, then record again.",
    ),
    "poor-fit-mirrored": (
        "stop",
        "The fitted engine does not follow these humps: it would follow them better read from "
        "their end, though the recording begins with the starter's inrush.",
        "Check the engine, its firing order and angles, and that nothing else drew current, then "
        "record again. A valve that stays shut or a crank that binds can do that too.",
    ),
    "poor-fit-empty": (
        "stop",
        "The humps are clear, but not where the fitted engine would compress anything.",
        "Check firing order, firing angles and sync, then analyse again.",
    ),
    "time-reversed": (
        "stop",
        "The current fits a starter that turns this engine better when it is read from its end.",
        "Check that the clamp holds the starter's feed, that the recording does not "
        "run backwards, and the firing order and angles entered; then record again.",
    ),
    "time-inrush-last": (
        "stop",
        "The crank ends with the peak that a starter draws as it begins to turn: the recording "
        "runs backwards.",
        "Check how the file was made, and record again.",
    ),
    "time-direction-unclear": (
        "warn",
        "The current fits a starter that turns this engine about as well when it is read from its "
        "end, and not well either way, so the figures are less sure than their intervals say.",
        "Check that the clamp holds the starter's feed, and the firing order and angles entered, "
        "and record once more.",
    ),
    "plain-reading": (
        "warn",
        "The fitted engine does not follow this recording, so it was read plainly: {seen}.",
        "Trust this less than fitted figures: how the starter answers is left out. Confirm with a "
        "clamp on the starter cable or a compression gauge before any work.",
    ),
    "plain-reading-told": (
        "note",
        "Read plainly, {seen}.",
        "Take no verdict from this alone; record the starter current with a clamp, or test "
        "compression with a gauge.",
    ),
    "no-compression": (
        "stop",
        "The starter's current hardly rises and falls ({ripple} %): no compressions to compare.",
        "Check that all plugs are in and the throttle is as usual. If they are, the valve timing "
        "may be wrong: do not crank again; " + BAR_OVER,
    ),
    "gaps": (
        "stop",
        "Samples are missing during the crank; the longest gap lasts {gap} ms.",
        "Save the recording again without gaps.",
    ),
    "gaps-bridged": (
        "note",
        "{share} % of the samples are missing and were bridged.",
        "Nothing to do unless it gets worse.",
    ),
    **SYNC_TEXTS,
    "inverted": (
        "note",
        "The current is negative: the clamp was reversed, so the current was inverted.",
        "Nothing to do; reverse the clamp next time.",
    ),
    "inverted-kept": (
        "warn",
        "The current looks upside down with the sign that was entered.",
        "Set “Invert the current” to “Find out”, or choose the other answer.",
    ),
    "scale-too-high": (
        "warn",
        "A mean cranking current of {level} is too much for a {engine}{other}.",
        "Check the clamp's mV/A switch against the scale entered before anything is said of the "
        "starter; cylinders are compared all the same.",
    ),
    "scale-too-low": (
        "warn",
        "A mean cranking current of {level} is too little for a {engine}{other}.",
        "Check the clamp's mV/A switch against the scale entered, and that the clamp holds the "
        "whole starter feed; cylinders are compared all the same.",
    ),
    "scale-unknown": (
        "note",
        "The file does not say how many volts full scale is, so amps are not known.",
        "Enter the volts at full scale; cylinders are compared all the same.",
    ),
    "drift": (
        "note",
        "The current changes by {share} % over the cycles judged.",
        "Check that the battery is charged; each hump is measured against its own gaps.",
    ),
    "load-on-cable": (
        "note",
        "Before the crank the clamp reads {level}.",
        "Zero the clamp off the cable and switch off loads and charger.",
    ),
    "event-not-measured": (
        "warn",
        "The angle of the other event was not measured: {why}",
        "Record it beside an ignition event of a known cylinder, and crank a little longer.",
    ),
    "zero-implausible": (
        "stop",
        "At rest this channel reads {level}, while the crank changes it by {drawn} only.",
        "See that this is the clamp's channel, zero the clamp off the cable, and record again.",
    ),
    "zero-unknown": (
        "stop",
        "No rest was recorded, and the current fits an engine better upside down: its zero or its "
        "sign is not what it seems.",
        "Zero the clamp off the cable, begin recording a second before cranking, and crank again.",
    ),
    "neighbour-effect": (
        "note",
        "The hump of {high} is {share} % higher than usual because it follows a weak one, "
        "which pushes less: the crank comes slower into it.",
        "Do not read it as strong compression, nor the others as weak beside it.",
    ),
    "which-cylinder": (
        "warn",
        "The figures are clear, but which cylinder each belongs to is less certain: {why}.",
        "Check the sync lead's cylinder; opening one easy cylinder shows which hump drops out.",
    ),
    "bank-uneven": (
        "warn",
        "One bank is weaker: cylinders {cylinders} lie {points} % below the others on the mean "
        "({low} to {high}).",
        "Cam timing of one of the two banks: this one is late or the other is early. Read codes "
        "and cam data first; once the engine is known to turn freely, gauge one cylinder of each "
        "bank against the manufacturer's figure.",
    ),
    "bank-uncertain": (
        "warn",
        "This trace does not tell well whether the banks are alike: they differ by {points} % "
        "({low} to {high}).",
        "Gauge one cylinder of each bank where cam timing is in question.",
    ),
    "comes-and-goes": (
        "warn",
        "{which} is low in {low} of {cycles} cycles and normal in the others; a sticking valve or "
        "a weak spring can do that.",
        "Look at the single cycles, not the mean, and repeat the crank cold and hot.",
    ),
    "low-at-first": (
        "warn",
        "{which} is low in the first {low} of {cycles} cycles and recovers; a lifter that bleeds "
        "down, carbon on a seat or a dry bore can do that.",
        "Look at the single cycles, and repeat the crank after a rest and again at once.",
    ),
    "too-uncertain-low": (
        "warn",
        "{which} reads {figure} % of the good cylinders, but may lie anywhere from {low} to "
        "{high} %. That is not sure enough to call it weak, nor to clear it.",
        "Record another crank of the warm engine with a full battery, or test this cylinder with "
        "a gauge.",
    ),
    "too-uncertain-sound": (
        "warn",
        "{which} is not called low, but may be: it reads {figure} % of the good cylinders and may "
        "stand as low as {low} %.",
        "Test it along with those that are low, or record another crank of the warm engine with a "
        "full battery.",
    ),
    "too-uncertain-cut": (
        "stop",
        "The figures move by up to {points} points with where the engine cycle is cut, so the fit "
        "has not settled on one engine.",
        "Check the engine entered; record more cycles, with more samples a second.",
    ),
    "too-uncertain-even": (
        "warn",
        "The cylinders are even as far as this recording can tell: {which} may lie anywhere "
        "from {low} to {high} % of the good ones.",
        "Record another crank of the warm engine with a full battery; confirm with a compression "
        "gauge.",
    ),
    **HIGH_TEXTS,
    **HAND_TEXTS,
    **PLUG_TEXTS,
    "relative-only": (
        "note",
        "Cylinders are compared with each other only; wear that is equal in all cannot be seen.",
        "Confirm with a compression gauge.",
    ),
}

# published codes with more than one wording
_CODES = {
    "engine-caught-late": "engine-caught",
    "plain-reading-told": "plain-reading",
    "speed-low": "speed-implausible",
    "poor-fit-rough": "poor-fit",
    "poor-fit-strange": "poor-fit",
    "poor-fit-empty": "poor-fit",
    "coarse-rate": "low-rate",
    "gaps-bridged": "gaps",
    "sync-none": "sync-missing",
    "sync-lone": "sync-missing",
    "sync-ends": "sync-missing",
    "sync-doubled": "sync-mismatch",
    "sync-perhaps-single": "sync-every-360",
    "sync-edge-unclear": "sync-angle-unknown",
    "high-hump-alone": "high-hump",
    "high-hump-pair": "high-hump",
    "high-hump-shut": "high-hump",
    "high-hump-between": "high-hump",
    "time-direction-unclear": "time-reversed",
    "time-inrush-last": "time-reversed",
    "poor-fit-mirrored": "poor-fit",
    "coarsest-steps": "coarse-steps",
    "inverted-kept": "inverted",
    "scale-too-high": "scale-implausible",
    "scale-too-low": "scale-implausible",
    "scale-unknown": "scale-implausible",
    "hand-shift-idle": "hand-shift",
    "hand-mark-unused": "hand-mark",
    "hand-mark-outside": "hand-mark",
    "hand-marks-apart": "sync-mismatch",
    "hand-mismatch": "sync-mismatch",
    "hand-left-out-idle": "hand-left-out",
    "hand-span-empty": "too-short",
    "too-uncertain-low": "too-uncertain",
    "too-uncertain-even": "too-uncertain",
    "too-uncertain-sound": "too-uncertain",
    "too-uncertain-cut": "too-uncertain",
}


def finding(
    wording: str,
    *,
    channel: str | None = None,
    from_s: float | None = None,
    to_s: float | None = None,
    **figures: object,
) -> Finding:
    """Make a finding from its wording and the figures that belong into it."""
    severity, message, remedy = _TEXTS[wording]
    return Finding(
        code=_CODES.get(wording, wording),
        severity=severity,
        message=message.format(**figures),
        remedy=remedy.format(**figures),
        channel=channel,
        from_s=from_s,
        to_s=to_s,
    )


def pointing_to(found: Finding, channel: str) -> Finding:
    """Return a finding whose remedy is to choose the channel that looks like cranking current."""
    remedy = (
        f"Channel {channel} looks like cranking current: choose it as the clamp's channel and "
        "analyse again."
    )
    return replace(found, remedy=remedy)


def amps(value_a: float) -> str:
    """Write a current for a sentence."""
    return f"{value_a:.1f} A" if abs(value_a) < 10 else f"{value_a:.0f} A"
