"""Engines: layout, firing order and where the cylinders sit."""

from typing import Any

from django.core.exceptions import ValidationError
from django.db import models
from django.utils import timezone
from django.utils.translation import gettext, gettext_lazy

from engines.core.firing import FiringAngleError, FiringOrder, FiringOrderError
from engines.core.fitted import COILS, INJECTION, fitted_refusals
from engines.core.geometry import EngineGeometry
from engines.core.layouts import LAYOUT_CHOICES, Layout, LayoutError, layout_of
from engines.core.library_words import library_name, library_sentence
from engines.core.positions import (
    Place,
    PositionError,
    Positions,
    checked_places,
    cylinders_by_bank,
)
from engines.core.spacing import firing_angles
from shopdiag.people.models import Member, Shop, ShopOwned, Versioned

NAME_TAKEN = gettext_lazy("Your shop already has an engine of this name; choose another name.")


class EngineQuerySet(models.QuerySet["Engine"]):
    """Engines; every read that a person asks for starts with `seen_by`."""

    def seen_by(self, member: Member) -> "EngineQuerySet":
        """Return the library and the own engines of the member's shop."""
        return self.filter(models.Q(shop=None) | models.Q(shop_id=member.shop_id))

    def kept_by(self, member: Member) -> "EngineQuerySet":
        """Return the engines that the member's shop made and may change."""
        return self.filter(shop_id=member.shop_id)

    def in_use(self) -> "EngineQuerySet":
        """Return the engines that may be chosen for new work."""
        return self.filter(retired=False)


class Engine(Versioned):
    """An engine as far as firing goes: a row of the library, or a shop's own."""

    class Fuel(models.TextChoices):
        PETROL = "petrol", gettext_lazy("Petrol")
        DIESEL = "diesel", gettext_lazy("Diesel")

    shop = models.ForeignKey(
        Shop, null=True, on_delete=models.PROTECT, related_name="+", editable=False
    )
    key = models.SlugField(max_length=60, null=True, unique=True, editable=False)  # noqa: DJ001 - a shop's own rows have none, and '' would collide
    name = models.CharField(gettext_lazy("name"), max_length=120)
    layout = models.CharField(
        gettext_lazy("layout"),
        max_length=12,
        choices=[(k, gettext_lazy(w)) for k, w in LAYOUT_CHOICES],
    )
    firing_order = models.CharField(gettext_lazy("firing order"), max_length=60)
    cylinders = models.PositiveSmallIntegerField(gettext_lazy("cylinders"), editable=False)
    tdc_angles = models.JSONField(gettext_lazy("firing angles"), null=True, blank=True)
    positions = models.JSONField(gettext_lazy("where the cylinders sit"), default=list, blank=True)
    numbering = models.CharField(
        gettext_lazy("how the cylinders are numbered"), blank=True, max_length=300
    )
    fuel = models.CharField(
        gettext_lazy("fuel"), max_length=6, choices=Fuel.choices, default=Fuel.PETROL
    )
    coils = models.CharField(
        gettext_lazy("coils"),
        max_length=12,
        blank=True,
        choices=[(k, gettext_lazy(w)) for k, w in COILS.items()],
    )
    """Empty where nobody noted it; the library's engines are of many makes and say nothing."""
    injection = models.CharField(
        gettext_lazy("injection"),
        max_length=12,
        blank=True,
        choices=[(k, gettext_lazy(w)) for k, w in INJECTION.items()],
    )
    source = models.CharField(gettext_lazy("where the firing order comes from"), max_length=300)
    retired = models.BooleanField(gettext_lazy("retired"), default=False, editable=False)
    created_at = models.DateTimeField(default=timezone.now, editable=False)
    created_by = models.ForeignKey(
        Member, null=True, on_delete=models.PROTECT, related_name="+", editable=False
    )

    objects = EngineQuerySet.as_manager()

    class Meta:
        ordering = ["cylinders", "layout", "name", "pk"]
        constraints = [
            models.CheckConstraint(
                condition=models.Q(shop=None, key__isnull=False)
                | models.Q(shop__isnull=False, key=None),
                name="engine_of_library_or_shop",
            ),
            models.UniqueConstraint(
                fields=["shop", "name"],
                condition=models.Q(retired=False, shop__isnull=False),
                name="engine_name_once_per_shop",
                violation_error_message=NAME_TAKEN,
            ),
        ]

    def __str__(self) -> str:
        return self.name_words

    @property
    def name_words(self) -> str:
        """What it is called, the library's words in the reader's language."""
        return library_name(self.name) if self.is_library else self.name

    @property
    def source_words(self) -> str:
        """Where the firing order comes from, for the reader."""
        return library_sentence(self.source) if self.is_library else self.source

    @property
    def numbering_words(self) -> str:
        """How the cylinders are numbered, for the reader."""
        return library_sentence(self.numbering) if self.is_library else self.numbering

    def save(self, *args: Any, **kwargs: Any) -> None:  # noqa: ANN401 - Django's signature
        """Keep the number of cylinders, which lists filter by, true to the firing order."""
        self.cylinders = len(self.order)
        super().save(*args, **kwargs)

    def clean(self) -> None:
        """Check order, angles, layout, places, fuel and what is fitted against each other."""
        try:
            order = self.order
        except FiringAngleError as error:
            raise ValidationError({"tdc_angles": str(error)}) from None
        except FiringOrderError as error:
            raise ValidationError({"firing_order": str(error)}) from None
        self.firing_order = str(order)
        self.cylinders = len(order)
        if order.is_even:
            self.tdc_angles = None
        try:
            _ = self.geometry
        except LayoutError as error:
            raise ValidationError({"layout": str(error)}) from None
        except PositionError as error:
            raise ValidationError({"positions": str(error)}) from None
        if refused := fitted_refusals(self.fuel, self.coils, self.injection):
            raise ValidationError(refused)

    @property
    def order(self) -> FiringOrder:
        """The firing order with its angles."""
        return FiringOrder.parse(self.firing_order, self.tdc_angles)

    def order_typed(self, typed: str) -> FiringOrder:
        """Return another sequence for this engine; an uneven engine stays uneven.

        Raises
        ------
        FiringOrderError
            If `typed` is no firing order or has another number of cylinders.
        """
        order = FiringOrder.parse(typed)
        if len(order) != self.cylinders:
            raise FiringOrderError(
                gettext(
                    "This engine has %(cylinders)s cylinders and the firing order %(count)s; "
                    "choose another engine or type all %(cylinders)s."
                )
                % {"cylinders": self.cylinders, "count": len(order)}
            )
        return FiringOrder.parse(typed, self.tdc_angles)

    @property
    def spacing(self) -> str:
        """How far apart it fires, such as '150/90', where its kind may fire unevenly; else ''."""
        told = firing_angles(self.order)
        if told is None or (told.even and len(self.layout_kind.banks) < 2):
            return ""
        return told.intervals

    @property
    def layout_kind(self) -> Layout:
        """The layout with its banks."""
        return layout_of(self.layout)

    @property
    def places(self) -> dict[int, Place]:
        """Where every cylinder sits, by cylinder number."""
        return checked_places(_position_rows(self.positions), len(self.order))

    @property
    def banks(self) -> tuple[tuple[int, ...], ...] | None:
        """Cylinders of each bank; None where there is one row or the places cannot be read."""
        try:
            return cylinders_by_bank(self.places) or None
        except PositionError:
            return None

    @property
    def geometry(self) -> EngineGeometry:
        """The engine as drawings and other core code take it."""
        return EngineGeometry(self.name_words, self.layout_kind, self.order, self.places)

    def place_of(self, cylinder: int) -> Place:
        """Return where `cylinder` sits.

        Raises
        ------
        FiringOrderError
            If the engine has no such cylinder.
        """
        self.order.position_of(cylinder)
        return self.places[cylinder]

    @property
    def is_library(self) -> bool:
        """Whether this row is of the library and so not the shop's to change."""
        return self.shop_id is None


class BankAccess(ShopOwned):
    """How long the shop takes on an engine to reach a bank's plugs; the newest line counts."""

    engine = models.ForeignKey(Engine, on_delete=models.PROTECT, related_name="+")
    bank = models.CharField(gettext_lazy("bank"), max_length=2, blank=True)
    """Its letter; empty on an engine with one row."""
    minutes = models.PositiveSmallIntegerField(gettext_lazy("minutes"))
    """From a closed bonnet until its plugs, glow plugs or injectors can be taken out."""
    note = models.CharField(gettext_lazy("what is in the way"), max_length=200, blank=True)
    form_token = models.UUIDField(null=True, editable=False)
    created_at = models.DateTimeField(default=timezone.now, editable=False)
    created_by = models.ForeignKey(
        Member, on_delete=models.PROTECT, related_name="+", editable=False
    )

    class Meta:
        ordering = ["-pk"]

    def __str__(self) -> str:
        return gettext("%(engine)s, %(bank_words)s: %(minutes)s min") % {
            "engine": self.engine,
            "bank_words": self.bank_words,
            "minutes": self.minutes,
        }

    @property
    def bank_words(self) -> str:
        """What the bank is called."""
        return gettext("bank %(bank)s") % {"bank": self.bank} if self.bank else gettext("plugs")


def positions_json(places: Positions) -> list[dict[str, str | int]]:
    """Return places as `Engine.positions` keeps them."""
    return [
        {"cylinder": cylinder, "bank": place.bank, "place": place.place}
        for cylinder, place in sorted(places.items())
    ]


def _position_rows(positions: Any) -> list[tuple[int, str, int]]:  # noqa: ANN401 - JSON as stored
    try:
        return [(int(p["cylinder"]), str(p["bank"]), int(p["place"])) for p in positions]
    except (TypeError, KeyError, ValueError):
        raise PositionError(
            gettext(
                "The places cannot be read; give each cylinder a bank and a place from the front."
            )
        ) from None
