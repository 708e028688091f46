"""The figures of tests on coils and plugs."""

from jobs.core.measured_tests.entry import TypedTest
from jobs.core.measured_tests.figure import Choice, Comparison, Figure, Kind, Scope
from shopdiag.people.core.words import gettext_noop

COIL = TypedTest(
    "coil",
    Scope.CYLINDER,
    (
        Figure(
            "primary_ohm",
            gettext_noop("Primary resistance"),
            gettext_noop("Primary"),
            "Ω",
            least=0.0,
            most=50.0,
            usual=(0.2, 10.0),
            comparison=Comparison(0.15, 0.10),
        ),
        Figure(
            "secondary_kohm",
            gettext_noop("Secondary resistance"),
            gettext_noop("Secondary"),
            "kΩ",
            least=0.0,
            most=200.0,
            usual=(1.0, 40.0),
            comparison=Comparison(0.20, 0.15),
        ),
        Figure(
            "primary_peak_a",
            gettext_noop("Peak primary current"),
            gettext_noop("Peak current"),
            "A",
            decimals=1,
            least=0.0,
            most=60.0,
            usual=(2.0, 25.0),
            comparison=Comparison(0.15, 0.10),
        ),
        Figure(
            "spark_ms",
            gettext_noop("Spark duration"),
            gettext_noop("Spark"),
            "ms",
            least=0.0,
            most=10.0,
            usual=(0.4, 4.0),
            comparison=Comparison(0.30, 0.20),
        ),
    ),
)

PLUGS = TypedTest(
    "plugs",
    Scope.CYLINDER,
    (
        Figure(
            "gap_mm",
            gettext_noop("Plug gap"),
            gettext_noop("Gap"),
            "mm",
            least=0.0,
            most=4.0,
            usual=(0.4, 1.6),
            comparison=Comparison(0.30, 0.20),
        ),
        Figure(
            "plug_look",
            gettext_noop("How the plug looks"),
            gettext_noop("Appearance"),
            kind=Kind.CHOICE,
            choices=(
                Choice("normal", gettext_noop("Normal"), "good"),
                Choice(
                    "wet",
                    gettext_noop("Wet with fuel"),
                    "bad",
                    gettext_noop("The mixture did not burn: no spark, or too much fuel."),
                ),
                Choice(
                    "oily",
                    gettext_noop("Oily"),
                    "bad",
                    gettext_noop("Oil gets in past rings or valve guides."),
                ),
                Choice(
                    "sooty",
                    gettext_noop("Sooty"),
                    "bad",
                    gettext_noop("Rich mixture, a weak spark, or an engine that never gets warm."),
                ),
                Choice(
                    "white",
                    gettext_noop("White, blistered"),
                    "bad",
                    gettext_noop("Lean mixture, too hot, or coolant in the cylinder."),
                ),
                Choice(
                    "cracked",
                    gettext_noop("Cracked, tracked"),
                    "bad",
                    gettext_noop("The spark takes the way outside."),
                ),
                Choice(
                    "worn",
                    gettext_noop("Worn"),
                    "bad",
                    gettext_noop("A wide gap asks more of the coil."),
                ),
            ),
        ),
    ),
)
