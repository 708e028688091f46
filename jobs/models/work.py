"""The work order, what the mechanic found, and how the visit ended."""

from collections.abc import Sequence
from typing import TYPE_CHECKING, ClassVar, Self

from django.db import models
from django.utils import timezone
from django.utils.translation import gettext, pgettext_lazy
from django.utils.translation import gettext_lazy as _

from jobs.models.consent import RepairConsent
from jobs.models.evidence import Judgement
from jobs.models.intake import Visit
from shopdiag.people.models import Member, ShopOwned, ShopQuerySet, Versioned

if TYPE_CHECKING:
    from jobs.models.question import Question


class WorkOrderQuerySet(ShopQuerySet["WorkOrder"]):
    """Work orders."""

    def with_people(self) -> Self:
        """Return them with their vehicle and who ordered, is to do and does them."""
        return self.select_related(
            "visit__vehicle__engine",
            "visit__shop",
            "assigned_to__user",
            "accepted_by__user",
            "created_by__user",
        )

    def with_verdict(self) -> Self:
        """Return them with the verdict they follow from, and its run."""
        return self.select_related(
            "judgement__by__user",
            "judgement__run__setup__engine",
            "judgement__run__reading",
            "judgement__run__capture",
        )


class WorkOrder(ShopOwned, Versioned):
    """A request to a mechanic with the cylinder named; complete without any other screen."""

    class State(models.TextChoices):
        OPEN = "open", _("Open")
        ACCEPTED = "accepted", _("Accepted")
        DONE = "done", pgettext_lazy("work order", "Done")
        WITHDRAWN = "withdrawn", _("Withdrawn")

    summary_beyond = ""
    """What the summary says beyond the findings, set where both are listed."""

    current: Sequence["CylinderFinding"] = ()
    """Findings that stand, set where they are listed."""

    superseded = ""
    """What a later verdict says otherwise, set where it is listed."""

    OPEN_STATES = (State.OPEN, State.ACCEPTED)
    """In these an order still takes findings and changes."""

    visit = models.ForeignKey(Visit, on_delete=models.PROTECT, related_name="work_orders")
    judgement = models.ForeignKey(Judgement, on_delete=models.PROTECT, related_name="work_orders")
    """Has one order of its diagnosis, and one of each repair agreed since."""
    last_answer = models.ForeignKey(
        RepairConsent, null=True, on_delete=models.PROTECT, related_name="+", editable=False
    )
    """The customer's last one on the repair when the order was made; None where there was none."""
    state = models.CharField(
        max_length=10, choices=State.choices, default=State.OPEN, editable=False, db_index=True
    )
    request = models.CharField(_("request, in one line"), max_length=200)
    cylinders = models.JSONField(default=list, blank=True)
    """Suspect cylinders by number."""
    places = models.JSONField(default=list, blank=True)
    """Where each of them sits, as it stood when ordered: [{"cylinder", "words"}]."""
    firing_order = models.CharField(max_length=60, blank=True)
    firing_source = models.CharField(max_length=300, blank=True)
    tests_done = models.JSONField(default=list, blank=True)
    """Sentences on what need not be repeated."""
    tests = models.JSONField(default=list, blank=True)
    """Tests wanted, in order: [{"key", "words", "why"}] as they stood when ordered."""
    patterns = models.JSONField(default=list, blank=True)
    """What the pattern suggests, in order, as it stood when ordered:
    [{"pattern", "about", "name", "reading", "disproof", "source", "hints", "tests"}]."""
    cautions = models.JSONField(default=list, blank=True)
    """Sentences as they stood when ordered."""
    sync_proof = models.TextField(blank=True)
    confidence = models.TextField(blank=True)
    disproof = models.TextField(_("what would rule it out"), blank=True)
    gauge_rule = models.JSONField(default=dict, blank=True)
    """`jobs.core.gauge.GaugeRule.to_json()`: the limits this job is judged by, and whose."""
    scope = models.TextField(_("authorised scope"), max_length=1000, blank=True)
    scope_minutes = models.PositiveIntegerField(
        _("authorised time (minutes)"), null=True, blank=True
    )
    stop_and_call = models.CharField(_("stop and call when"), max_length=300, blank=True)
    assigned_to = models.ForeignKey(
        Member,
        verbose_name=_("for"),
        null=True,
        blank=True,
        on_delete=models.PROTECT,
        related_name="+",
    )
    created_at = models.DateTimeField(default=timezone.now, editable=False)
    created_by = models.ForeignKey(Member, on_delete=models.PROTECT, related_name="+")
    accepted_at = models.DateTimeField(null=True, editable=False)
    accepted_by = models.ForeignKey(
        Member, null=True, on_delete=models.PROTECT, related_name="+", editable=False
    )
    completed_at = models.DateTimeField(null=True, editable=False)
    withdrawn_at = models.DateTimeField(null=True, editable=False)
    withdrawn_why = models.CharField(_("why withdrawn"), max_length=400, blank=True)
    left_out = models.CharField(_("why wanted tests were left out"), max_length=400, blank=True)
    summary = models.TextField(_("what was found, in short"), max_length=2000, blank=True)

    objects: ClassVar = WorkOrderQuerySet.as_manager()

    @property
    def open_questions(self) -> "list[Question]":
        """What was asked on it and nobody answered; empty once it is finished."""
        if self.state not in self.OPEN_STATES:
            return []
        return list(self.questions.filter(answered_at=None).select_related("by__user"))

    class Meta:
        ordering = ["-pk"]

    def __str__(self) -> str:
        return gettext("Work order of job %(number)s") % {"number": self.visit.number}


class CylinderFinding(models.Model):
    """One test on one cylinder; a correction is a new line that replaces an old one."""

    repeats: "tuple[CylinderFinding, ...]" = ()
    """Earlier entries of the same test that this one stands for, where a list shows it once."""

    class Test(models.TextChoices):
        GAUGE_DRY = "gauge_dry", _("Compression test, dry")
        GAUGE_WET = "gauge_wet", _("Compression test, wet")
        LEAK_DOWN = "leak_down", _("Leak-down")
        BORESCOPE = "borescope", _("Borescope")
        RUNNING = "running", _("Running compression")
        SYNC = "sync", _("Sync check")
        BIND = "bind", _("Engine barred over")
        TIMING = "timing", _("Cam timing")
        CAM_TRACE = "cam_trace", _("Cam, crank trace")
        REPEAT = "repeat", _("Repeated capture")
        WASH = "wash", _("Fuel-washed bores")
        COOLANT = "coolant", _("Coolant, gas test")
        SEATS = "seats", _("Plug, injector seats")
        VALVES = "valves", _("Valve clearance and lift")
        VACUUM = "vacuum", _("Vacuum")
        EXHAUST = "exhaust", _("Back pressure")
        COUNTS = "counts", _("Misfire counts")
        PLUGS = "plugs", _("Plugs")
        COIL = "coil", _("Coil")
        INJECTOR = "injector", _("Injector")
        FUEL_PRESSURE = "fuel_press", _("Fuel pressure")
        TRIMS = "trims", _("Fuel trims")
        WIRING = "wiring", _("Supply and ground")
        CUT_OUT = "cut_out", _("Cut-out")
        FRAME = "frame", _("Freeze frame")
        AIR_METER = "air_meter", _("Air meter")
        PHASER = "phaser", _("Cam phasers")
        OXYGEN = "oxygen", _("Oxygen sensor")
        STARTER = "starter", _("Starter")
        OTHER = "other", _("Other")

    class Outcome(models.TextChoices):
        GOOD = "good", _("Good")
        BAD = "bad", _("Bad")
        AMBIGUOUS = "ambiguous", _("Ambiguous")
        NOT_DONE = "not_done", _("Not done")

    class HeardAt(models.TextChoices):
        NOWHERE = "", _("–")
        INTAKE = "intake", pgettext_lazy("where air escapes", "Intake")
        EXHAUST = "exhaust", _("Exhaust")
        CRANKCASE = "crankcase", _("Oil filler")
        COOLANT = "coolant", _("Coolant")
        NEIGHBOUR = "neighbour", _("Next cylinder")

    work_order = models.ForeignKey(WorkOrder, on_delete=models.PROTECT, related_name="findings")
    cylinder = models.PositiveSmallIntegerField(_("cylinder"), null=True, blank=True)
    """None where the test is one of the whole engine."""
    test = models.CharField(_("test"), max_length=10, choices=Test.choices)
    outcome = models.CharField(_("outcome"), max_length=10, choices=Outcome.choices)
    first_puff_kpa = models.FloatField(null=True, editable=False)
    """What the gauge shows after the first compression; a ring or a valve shows in it first."""
    pressure_kpa = models.FloatField(null=True, editable=False)
    """What it shows after the last one."""
    leak_percent = models.FloatField(_("leakage (%)"), null=True, blank=True)
    supply_kpa = models.FloatField(_("supply pressure"), null=True, blank=True)
    orifice_mm = models.FloatField(_("orifice of the tester (mm)"), null=True, blank=True)
    """Per cent of testers with different orifices do not compare."""
    at_tdc = models.BooleanField(_("at compression top dead centre"), null=True, blank=True)
    """Both valves closed, approached from both sides, crank held; None where not noted."""
    is_warm = models.BooleanField(_("engine warm"), null=True, blank=True)
    oil_ml = models.FloatField(_("oil (ml)"), null=True, blank=True)
    swept_ml = models.FloatField(_("swept volume of the cylinder (ml)"), null=True, blank=True)
    idle_kpa = models.FloatField(_("running, at idle"), null=True, blank=True)
    """Running compression, injector unplugged and coil grounded on that cylinder."""
    snap_kpa = models.FloatField(_("running, on a snap of the throttle"), null=True, blank=True)
    bank = models.PositiveSmallIntegerField(_("bank"), null=True, blank=True)
    """As the scan tool numbers them; None where the test is not one of a bank."""
    figures = models.JSONField(_("figures"), null=True, blank=True, editable=False)
    """Of the tests in `jobs.core.measured_tests`, by name, in the unit that the name ends with."""
    heard_at = models.CharField(
        _("air escaping at"), max_length=10, blank=True, choices=HeardAt.choices
    )
    conditions = models.CharField(_("how it was done"), max_length=200, blank=True)
    """Strokes, throttle, warm or cold, supply pressure, oil quantity: what makes it repeatable."""
    words = models.TextField(_("what was found"), max_length=1000, blank=True)
    replaces = models.OneToOneField(
        "self",
        null=True,
        blank=True,
        on_delete=models.PROTECT,
        related_name="replaced_by",
        editable=False,
    )
    form_token = models.UUIDField(null=True, unique=True, editable=False)
    at = models.DateTimeField(default=timezone.now, editable=False)
    by = models.ForeignKey(Member, on_delete=models.PROTECT, related_name="+")

    class Meta:
        ordering = [models.F("cylinder").asc(nulls_first=True), "pk"]


class Outcome(Versioned):
    """Cause and correction in plain language, and whether the repair was proved."""

    class Verified(models.TextChoices):
        NOT_YET = "", _("Not yet")
        YES = "yes", _("Repair holds")
        NO = "no", _("Still the same")
        NOT_REPAIRED = "declined", _("Not repaired (declined or elsewhere)")

    visit = models.OneToOneField(Visit, on_delete=models.CASCADE, related_name="outcome")
    cause = models.TextField(_("cause"), max_length=2000, blank=True)
    correction = models.TextField(_("correction"), max_length=2000, blank=True)
    verified = models.CharField(_("verified"), max_length=10, blank=True, choices=Verified.choices)
    verified_how = models.TextField(_("how it was verified"), max_length=1000, blank=True)
    drive = models.CharField(
        _("drive over which misfires were counted"), max_length=200, blank=True
    )
    misfires_before = models.PositiveIntegerField(
        _("misfires on that drive before"), null=True, blank=True
    )
    misfires_after = models.PositiveIntegerField(
        _("misfires on that drive after"), null=True, blank=True
    )
    told_customer = models.TextField(
        _("for the customer, in plain words"), max_length=2000, blank=True
    )
