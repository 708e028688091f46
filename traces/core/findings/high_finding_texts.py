"""The sentences of findings about cylinders that stand above the others."""

from traces.core.findings.findings import Severity

# as in `finding_texts`
HIGH_TEXTS: dict[str, tuple[Severity, str, str]] = {
    "high-hump": (
        "warn",
        "{high} is {share} % above the others even after correction. Liquid in the cylinder or "
        "carbon can do that, or an exhaust valve of {companion}, 360 degrees away, that does not "
        "open.",
        "Stop cranking until the plug is out and the cylinder has been looked into: a cylinder "
        "with liquid can break the engine. If it is dry and clean, check that the exhaust valves "
        "of {companion} open fully.",
    ),
    "high-hump-alone": (
        "warn",
        "{high} is {share} % above the others even after correction. Liquid in the cylinder or "
        "carbon can do that.",
        "Stop cranking until the plug is out and the cylinder has been looked into: a cylinder "
        "with liquid can break the engine.",
    ),
    "high-hump-pair": (
        "warn",
        "{high} and {other}, 360 degrees apart, are both {share} % or more above the others. "
        "Something that binds once in every crank turn does that, such as the ring gear or the "
        "flywheel; liquid in both is less likely.",
        "Bar the engine over two turns by hand and feel for a place that binds. If it turns "
        "freely, look into both cylinders for liquid before cranking again.",
    ),
    "high-hump-shut": (
        "warn",
        "The hump of {high} holds a second compression, that of {shut}, 360 degrees away: its gas "
        "is not let out, so its exhaust valve stays shut or hardly opens. Without it {high} "
        "reads as given; that figure is less sure.",
        "Look at the exhaust valve gear of {shut} before cranking on: rocker, lifter, push rod, "
        "lobe, or a cylinder that is switched off. If it opens fully, look into both cylinders for "
        "liquid.",
    ),
    "high-hump-between": (
        "warn",
        "A compression too many comes 360 degrees after {shut}: its gas is not let out, so its "
        "exhaust valve stays shut or hardly opens.",
        "Look at the exhaust valve gear of {shut} before cranking on: rocker, lifter, push rod, "
        "lobe, or a cylinder that is switched off.",
    ),
    "one-reference": (
        "warn",
        "Only one cylinder is as high as a good one; all others are compared with it.",
        "Check with a compression gauge before any work.",
    ),
    "reference-doubtful": (
        "warn",
        "{above} {are} {share} % above all others. Either that is high, by liquid or by an "
        "exhaust valve that does not open, or the others are low, at about {low} %: this recording "
        "does not tell which.",
        "Do not crank on before that is known. Take a plug out there and look for liquid, then "
        "gauge it and one of the others.",
    ),
}
