"""Customer, vehicle, visit and complaint."""

from typing import ClassVar, Self

from django.db import models
from django.utils import timezone
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from engines.core.fitted import COILS, INJECTION
from engines.models import Engine
from jobs.core.stages import LABELS, Stage
from shopdiag.people.models import Member, ShopOwned, ShopQuerySet, Versioned

STAGE_CHOICES = [(s.value, _(LABELS[s])) for s in Stage]


class Customer(ShopOwned, Versioned):
    """Who brings vehicles; kept to what the shop needs to call back."""

    name = models.CharField(_("name"), max_length=120)
    phone = models.CharField(_("phone"), max_length=40, blank=True)
    email = models.EmailField(_("mail"), blank=True)
    phone_key = models.CharField(max_length=40, blank=True, editable=False, db_index=True)
    """Digits only, so that a number is found however it was typed."""

    class Meta:
        ordering = ["name", "pk"]

    def __str__(self) -> str:
        return self.name


class VehicleQuerySet(ShopQuerySet["Vehicle"]):
    """Vehicles."""

    def with_customer(self) -> Self:
        """Return them with customer and engine."""
        return self.select_related("customer", "engine")


class Vehicle(ShopOwned, Versioned):
    """One vehicle over all its visits."""

    class Drive(models.TextChoices):
        STARTER = "starter", _("Cranked by a 12 V or 24 V starter")
        BELT = "belt", _("Belt starter-generator (mild hybrid)")
        TRACTION = "traction", _("Hybrid, cranked by its drive motor")

    class Fuel(models.TextChoices):
        PETROL = "petrol", _("Petrol")
        DIESEL = "diesel", _("Diesel")
        GAS = "gas", _("Gas")

    class StopStart(models.TextChoices):
        UNKNOWN = "", _("Not known")
        YES = "yes", _("Yes")
        NO = "no", _("No")

    customer = models.ForeignKey(Customer, on_delete=models.PROTECT, related_name="vehicles")
    plate = models.CharField(_("plate"), max_length=16, blank=True)
    plate_key = models.CharField(max_length=16, blank=True, editable=False, db_index=True)
    """Letters and digits only, upper case."""
    vin = models.CharField(_("VIN"), max_length=20, blank=True, db_index=True)
    make = models.CharField(_("make"), max_length=40)
    model = models.CharField(_("model"), max_length=60)
    year = models.PositiveSmallIntegerField(_("year"), null=True, blank=True)
    engine = models.ForeignKey(
        Engine,
        verbose_name=_("engine"),
        null=True,
        blank=True,
        on_delete=models.PROTECT,
        related_name="+",
    )
    engine_code = models.CharField(_("engine code"), max_length=40, blank=True)
    fuel = models.CharField(_("fuel"), max_length=6, blank=True, choices=Fuel.choices)
    """Empty where it is not said; the engine's own then counts."""
    coils = models.CharField(
        _("coils"), max_length=12, blank=True, choices=[(k, _(w)) for k, w in COILS.items()]
    )
    injection = models.CharField(
        _("injection"), max_length=12, blank=True, choices=[(k, _(w)) for k, w in INJECTION.items()]
    )
    """As with the fuel, the engine's own counts where it is empty."""
    drive = models.CharField(
        _("how it is cranked"), max_length=10, choices=Drive.choices, default=Drive.STARTER
    )
    stop_start = models.CharField(
        _("stop-start system"), max_length=3, blank=True, choices=StopStart.choices
    )
    """Whether the engine stops and starts by itself in traffic; empty where nobody knows."""

    objects: ClassVar = VehicleQuerySet.as_manager()

    class Meta:
        ordering = ["pk"]

    def __str__(self) -> str:
        year = f"{self.year} " if self.year else ""
        return f"{year}{self.make} {self.model}"


class VisitQuerySet(ShopQuerySet["Visit"]):
    """Visits."""

    def with_vehicle(self) -> Self:
        """Return them with vehicle, customer and engine."""
        return self.select_related("vehicle__customer", "vehicle__engine")


class Visit(ShopOwned, Versioned):
    """One stay of one vehicle, from complaint to delivery."""

    asks = ""
    """What its orders ask, `stop` or `question`, set where it is listed."""

    is_passed = False
    """Whether more was used than was agreed, set where it is listed."""

    number = models.PositiveIntegerField(_("job number"), editable=False)
    vehicle = models.ForeignKey(Vehicle, on_delete=models.PROTECT, related_name="visits")
    stage = models.CharField(
        max_length=12,
        choices=STAGE_CHOICES,
        default=Stage.INTAKE.value,
        editable=False,
        db_index=True,
    )
    odometer = models.PositiveIntegerField(_("odometer"), null=True, blank=True)
    """In the shop's distance unit."""
    comeback_of = models.ForeignKey(
        "self",
        verbose_name=_("comes back for"),
        null=True,
        blank=True,
        on_delete=models.PROTECT,
        related_name="comebacks",
    )
    """The earlier job of the same vehicle whose work this one is about, as a person says."""
    opened_at = models.DateTimeField(default=timezone.now, editable=False)
    opened_by = models.ForeignKey(Member, on_delete=models.PROTECT, related_name="+")
    closed_at = models.DateTimeField(null=True, editable=False)
    form_token = models.UUIDField(null=True, unique=True, editable=False)
    """Makes a form that is sent twice one visit."""

    objects: ClassVar = VisitQuerySet.as_manager()

    class Meta:
        ordering = ["-pk"]
        constraints = [
            models.UniqueConstraint(fields=["shop", "number"], name="visit_number_per_shop"),
        ]

    def __str__(self) -> str:
        return gettext("Job %(number)s") % {"number": self.number}

    @property
    def stage_enum(self) -> Stage:
        """The stage as the rules know it."""
        return Stage(self.stage)


class Complaint(Versioned):
    """What the customer says, in the customer's words, and what was authorised."""

    class Consent(models.TextChoices):
        NONE = "", _("Not yet")
        IN_PERSON = "person", _("In person")
        PHONE = "phone", _("By phone")
        WRITTEN = "written", _("In writing")

    visit = models.OneToOneField(Visit, on_delete=models.CASCADE, related_name="complaint")
    words = models.TextField(_("complaint, in the customer's words"), max_length=4000)
    happens = models.JSONField(_("when it happens"), default=list, blank=True)
    """Keys of `jobs.core.complaint.HAPPENS`."""
    happens_note = models.CharField(_("more about when"), max_length=300, blank=True)
    happened_on = models.DateField(_("first noticed"), null=True, blank=True)
    warning_lights = models.JSONField(_("warning lights"), default=list, blank=True)
    """Keys of `jobs.core.complaint.WARNING_LIGHTS`."""
    recent_work = models.TextField(_("recent work"), max_length=2000, blank=True)
    authorised_minutes = models.PositiveIntegerField(
        _("authorised diagnosis time (minutes)"), null=True, blank=True
    )
    authorised_amount = models.CharField(_("authorised amount"), max_length=40, blank=True)
    authorised_by = models.CharField(_("authorised by"), max_length=120, blank=True)
    authorised_how = models.CharField(_("how"), max_length=8, blank=True, choices=Consent.choices)

    def __str__(self) -> str:
        return self.words[:60]
