"""Customer, vehicle, visit and complaint."""

from typing import ClassVar, Self

from django.db import models
from django.utils import timezone

from engines.models import Engine
from jobs.core.stages import LABELS, Stage
from shopdiag.people.models import Member, ShopOwned, ShopQuerySet, Versioned

STAGE_CHOICES = [(s.value, LABELS[s]) for s in Stage]


class Customer(ShopOwned, Versioned):
    """Who brings vehicles; kept to what the shop needs to call back."""

    name = models.CharField("name", max_length=120)
    phone = models.CharField("phone", max_length=40, blank=True)
    email = models.EmailField("mail", blank=True)
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
        STARTER = "starter", "Cranked by a 12 V or 24 V starter"
        BELT = "belt", "Belt starter-generator (mild hybrid)"
        TRACTION = "traction", "Hybrid, cranked by its drive motor"

    class Fuel(models.TextChoices):
        PETROL = "petrol", "Petrol"
        DIESEL = "diesel", "Diesel"
        GAS = "gas", "Gas"

    customer = models.ForeignKey(Customer, on_delete=models.PROTECT, related_name="vehicles")
    plate = models.CharField("plate", max_length=16, blank=True)
    plate_key = models.CharField(max_length=16, blank=True, editable=False, db_index=True)
    """Letters and digits only, upper case."""
    vin = models.CharField("VIN", max_length=20, blank=True, db_index=True)
    make = models.CharField("make", max_length=40)
    model = models.CharField("model", max_length=60)
    year = models.PositiveSmallIntegerField("year", null=True, blank=True)
    engine = models.ForeignKey(
        Engine,
        verbose_name="engine",
        null=True,
        blank=True,
        on_delete=models.PROTECT,
        related_name="+",
    )
    engine_code = models.CharField("engine code", max_length=40, blank=True)
    fuel = models.CharField("fuel", max_length=6, blank=True, choices=Fuel.choices)
    """Empty where it is not said; the engine's own then counts."""
    drive = models.CharField(
        "how it is cranked", max_length=10, choices=Drive.choices, default=Drive.STARTER
    )

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

    number = models.PositiveIntegerField("job number", editable=False)
    vehicle = models.ForeignKey(Vehicle, on_delete=models.PROTECT, related_name="visits")
    stage = models.CharField(
        max_length=12,
        choices=STAGE_CHOICES,
        default=Stage.INTAKE.value,
        editable=False,
        db_index=True,
    )
    odometer = models.PositiveIntegerField("odometer", null=True, blank=True)
    """In the shop's distance unit."""
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
        return f"Job {self.number}"

    @property
    def stage_enum(self) -> Stage:
        """The stage as the rules know it."""
        return Stage(self.stage)


class Complaint(Versioned):
    """What the customer says, in the customer's words, and what was authorised."""

    class Consent(models.TextChoices):
        NONE = "", "Not yet"
        IN_PERSON = "person", "In person"
        PHONE = "phone", "By phone"
        WRITTEN = "written", "In writing"

    visit = models.OneToOneField(Visit, on_delete=models.CASCADE, related_name="complaint")
    words = models.TextField("complaint, in the customer's words", max_length=4000)
    happens = models.JSONField("when it happens", default=list, blank=True)
    """Keys of `jobs.core.complaint.HAPPENS`."""
    happens_note = models.CharField("more about when", max_length=300, blank=True)
    happened_on = models.DateField("first noticed", null=True, blank=True)
    warning_lights = models.JSONField("warning lights", default=list, blank=True)
    """Keys of `jobs.core.complaint.WARNING_LIGHTS`."""
    recent_work = models.TextField("recent work", max_length=2000, blank=True)
    authorised_minutes = models.PositiveIntegerField(
        "authorised diagnosis time (minutes)", null=True, blank=True
    )
    authorised_amount = models.CharField("authorised amount", max_length=40, blank=True)
    authorised_by = models.CharField("authorised by", max_length=120, blank=True)
    authorised_how = models.CharField("how", max_length=8, blank=True, choices=Consent.choices)

    def __str__(self) -> str:
        return self.words[:60]
