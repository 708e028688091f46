"""Shops, the people in them and what ties the two."""

from datetime import timedelta
from typing import ClassVar, Self, TypeVar

from django.contrib.auth.models import AbstractUser
from django.core.validators import MaxValueValidator, MinValueValidator, RegexValidator
from django.db import models
from django.utils import timezone
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from shopdiag.people.core.roles import Action, Role, may


class User(AbstractUser):
    """A person who signs in; what he may do hangs on his membership in a shop."""

    # One name field: people write their names in many ways.
    first_name = None  # type: ignore[assignment]
    last_name = None  # type: ignore[assignment]
    name = models.CharField(_("name"), max_length=120)
    language = models.CharField(_("language"), max_length=8, blank=True, default="")
    """Empty where the person has not said it; then their browser's counts."""

    REQUIRED_FIELDS = ["name"]

    def __str__(self) -> str:
        return self.name or self.username

    def get_full_name(self) -> str:
        return self.name

    def get_short_name(self) -> str:
        return self.name.split(" ")[0]


class Versioned(models.Model):
    """A row that two people may edit at once; the second to save is told.

    `version` goes out with the form and must still stand when it comes back
    (see `shopdiag.people.services.versioned_save`).
    """

    version = models.PositiveIntegerField(default=1, editable=False)
    changed_at = models.DateTimeField(default=timezone.now, editable=False)
    changed_by = models.ForeignKey(
        "people.Member", null=True, on_delete=models.PROTECT, related_name="+", editable=False
    )

    class Meta:
        abstract = True


class Shop(Versioned):
    """One workshop; every other row belongs to exactly one."""

    class PressureUnit(models.TextChoices):
        KPA = "kPa", "kPa"
        BAR = "bar", "bar"
        PSI = "psi", "psi"

    class DistanceUnit(models.TextChoices):
        KM = "km", "km"
        MILES = "mi", _("miles")

    class PaperSize(models.TextChoices):
        A4 = "A4", _("A4 (210 × 297 mm)")
        LETTER = "Letter", _("Letter (8.5 × 11 in)")

    class DecimalSign(models.TextChoices):
        BY_LANGUAGE = "", _("as each reader's language does")
        POINT = ".", "1,234.5"
        COMMA = ",", "1 234,5"

    name = models.CharField(_("shop name"), max_length=120)
    address = models.TextField(_("address"), blank=True, max_length=500)
    phone = models.CharField(_("phone"), blank=True, max_length=40)
    time_zone = models.CharField(_("time zone"), default="UTC", max_length=64)
    pressure_unit = models.CharField(
        _("pressure in"), max_length=4, choices=PressureUnit.choices, default=PressureUnit.KPA
    )
    distance_unit = models.CharField(
        _("distance in"), max_length=2, choices=DistanceUnit.choices, default=DistanceUnit.KM
    )
    paper_size = models.CharField(
        _("paper"), max_length=6, choices=PaperSize.choices, default=PaperSize.A4
    )
    """Of papers made as PDF; what a browser prints takes the printer's."""
    currency = models.CharField(
        _("amounts in"),
        max_length=3,
        default="EUR",
        validators=[
            RegexValidator(
                r"^[A-Za-z]{3}\Z", _("Type the three letters of ISO 4217, such as EUR or USD.")
            )
        ],
    )
    """ISO 4217; amounts typed without a currency get it when they are saved."""
    hourly_rate = models.DecimalField(
        _("an hour of labour"),
        max_digits=8,
        decimal_places=2,
        null=True,
        blank=True,
        validators=[MinValueValidator(0.01)],
    )
    """In the shop's currency; without it amounts used are those of parts alone."""
    decimal_sign = models.CharField(
        _("numbers written"), max_length=1, blank=True, default="", choices=DecimalSign.choices
    )
    suspect_below = models.FloatField(
        _("suspect below"),
        default=0.80,
        validators=[MinValueValidator(0.3), MaxValueValidator(1.0)],
    )
    watch_below = models.FloatField(
        _("watch below"), default=0.88, validators=[MinValueValidator(0.3), MaxValueValidator(1.0)]
    )
    bank_even_within = models.FloatField(
        _("banks uneven from"),
        default=0.055,
        validators=[MinValueValidator(0.02), MaxValueValidator(0.3)],
    )
    """Difference of the banks' means, as a share of a sound cylinder."""
    altitude_m = models.PositiveIntegerField(
        _("altitude above the sea (m)"), default=0, validators=[MaxValueValidator(5000)]
    )
    """Thin air lowers what a sound cylinder builds; least gauge values are lowered by it."""
    created_at = models.DateTimeField(default=timezone.now, editable=False)

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=models.Q(suspect_below__lte=models.F("watch_below")),
                name="shop_limits_rise",
                violation_error_message=_("“Suspect below” must not be above “watch below”."),
            ),
        ]

    def __str__(self) -> str:
        return self.name


class Member(Versioned):
    """A person in a shop, in one role."""

    user = models.ForeignKey(User, on_delete=models.PROTECT, related_name="memberships")
    shop = models.ForeignKey(Shop, on_delete=models.PROTECT, related_name="members")
    role = models.CharField(
        _("role"),
        max_length=16,
        choices=[
            (Role.DIAGNOSTICIAN.value, _("Diagnostician")),
            (Role.MECHANIC.value, _("Mechanic")),
            (Role.WRITER.value, _("Service writer")),
            (Role.OWNER.value, _("Owner")),
        ],
    )
    active = models.BooleanField(_("active"), default=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["user", "shop"], name="member_once_per_shop"),
        ]

    def __str__(self) -> str:
        return f"{self.user} ({self.get_role_display()})"

    @property
    def name(self) -> str:
        """The person's name."""
        return str(self.user)

    def may(self, action: Action | str) -> bool:
        """Return whether this member does `action` in this shop."""
        return self.active and may(self.role, Action(action))


class ApiToken(models.Model):
    """A key with which a program acts as one member; only its digest is kept."""

    member = models.ForeignKey(Member, on_delete=models.CASCADE, related_name="api_tokens")
    label = models.CharField(_("what it is for"), max_length=80)
    digest = models.CharField(max_length=64, unique=True, editable=False)
    form_token = models.UUIDField(null=True, editable=False)
    created_at = models.DateTimeField(default=timezone.now, editable=False)
    last_used_at = models.DateTimeField(null=True, editable=False)
    revoked_at = models.DateTimeField(null=True, editable=False)
    revoked_by = models.ForeignKey(
        Member, null=True, on_delete=models.PROTECT, related_name="+", editable=False
    )

    def __str__(self) -> str:
        return gettext("%(label)s of %(member)s") % {"label": self.label, "member": self.member}


class Invitation(models.Model):
    """A link with which one person joins a shop once; only its key's digest is kept."""

    KEPT_FOR = timedelta(days=7)
    MOST_REFUSED = 10
    """So many usernames that are taken may be tried with one link: it is no way to list people."""

    shop = models.ForeignKey(Shop, on_delete=models.CASCADE, related_name="invitations")
    label = models.CharField(_("for whom"), max_length=80)
    role = models.CharField(_("role"), max_length=16)
    digest = models.CharField(max_length=64, unique=True, editable=False)
    refused = models.PositiveSmallIntegerField(default=0, editable=False)
    form_token = models.UUIDField(null=True, editable=False)
    created_at = models.DateTimeField(default=timezone.now, editable=False)
    created_by = models.ForeignKey(Member, on_delete=models.PROTECT, related_name="+")
    expires_at = models.DateTimeField(editable=False)
    used_at = models.DateTimeField(null=True, editable=False)
    used_by = models.ForeignKey(
        Member, null=True, on_delete=models.PROTECT, related_name="+", editable=False
    )
    revoked_at = models.DateTimeField(null=True, editable=False)

    class Meta:
        ordering = ["-pk"]

    @property
    def is_open(self) -> bool:
        """Whether somebody may still join with it."""
        ended = self.used_at or self.revoked_at or self.refused >= self.MOST_REFUSED
        return not ended and self.expires_at > timezone.now()

    def get_role_display(self) -> str:
        """Return the role in words."""
        return Member(role=self.role).get_role_display()


_Row_co = TypeVar("_Row_co", bound="InShop", covariant=True)


class ShopQuerySet(models.QuerySet[_Row_co]):
    """Rows of shops; every read that a person asks for starts with `seen_by`."""

    def seen_by(self, member: Member) -> Self:
        """Return only the rows of the member's shop."""
        return self.filter(**{self.model.shop_path: member.shop_id})


class InShop(models.Model):
    """A row of one shop, by its own column or by the row it hangs on."""

    shop_path: ClassVar[str]
    """The lookup that leads to the shop's number."""

    objects = ShopQuerySet.as_manager()

    class Meta:
        abstract = True


class ShopOwned(InShop):
    """A row that belongs to a shop."""

    shop_path = "shop_id"

    shop = models.ForeignKey(Shop, on_delete=models.PROTECT, related_name="+", editable=False)

    class Meta:
        abstract = True
