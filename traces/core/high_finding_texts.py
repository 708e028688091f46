"""The sentences of findings about cylinders that stand above the others."""

from traces.core.results import Severity

# as in `finding_texts`
HIGH_TEXTS: dict[str, tuple[Severity, str, str]] = {
    "high-hump": (
        "warn",
        "{high} stands {share} % above the others even after correction. Liquid in the cylinder or "
        "carbon can do that, or an exhaust valve of {companion}, 360 degrees away, that does not "
        "open.",
        "Stop cranking until the plug is out and the cylinder has been looked into: a cylinder "
        "with liquid can break the engine. If it is dry and clean, check that the exhaust valves "
        "of {companion} open fully.",
    ),
    "high-hump-alone": (
        "warn",
        "{high} stands {share} % above the others even after correction. Liquid in the cylinder or "
        "carbon can do that.",
        "Stop cranking until the plug is out and the cylinder has been looked into: a cylinder "
        "with liquid can break the engine.",
    ),
    "high-hump-pair": (
        "warn",
        "{high} and {other}, 360 degrees apart, both stand {share} % or more above the others. "
        "Something that binds once in every crank turn does that, such as the ring gear or the "
        "flywheel; liquid in both is less likely.",
        "Turn the engine by hand over two turns and feel for a place that binds. If it turns "
        "freely, look into both cylinders for liquid before cranking again.",
    ),
    "one-reference": (
        "warn",
        "Only one cylinder stands as high as sound ones would; all others are compared with it.",
        "Check with a compression gauge before any work.",
    ),
    "reference-doubtful": (
        "warn",
        "{above} {stand} {share} % above all others. Either that is high, by liquid or by an "
        "exhaust valve that does not open, or the others are low, at about {low} %: this recording "
        "does not tell which.",
        "Do not crank on before that is known. Take a plug out there and look for liquid, then "
        "gauge it and one of the others.",
    ),
}
