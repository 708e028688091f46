"""What people type about themselves, their shop and its members."""

from decimal import Decimal
from typing import Any, cast
from uuid import uuid4
from zoneinfo import available_timezones

from django import forms
from django.contrib.auth.forms import AuthenticationForm, PasswordChangeForm
from django.contrib.auth.password_validation import validate_password
from django.core.exceptions import ValidationError
from django.utils.translation import gettext, gettext_lazy

from shopdiag.people.asking_back import AsksBack
from shopdiag.people.core.roles import Role
from shopdiag.people.language import language_choices
from shopdiag.people.models import Member, Shop, User
from shopdiag.people.number_field import NumberField
from shopdiag.people.selectors import live_tokens_of
from shopdiag.people.services import SHOP_FIELDS
from shopdiag.people.versioned import VersionedForm

_ROLES = [
    (Role.DIAGNOSTICIAN.value, gettext_lazy("Diagnostician")),
    (Role.MECHANIC.value, gettext_lazy("Mechanic")),
    (Role.WRITER.value, gettext_lazy("Service writer")),
    (Role.OWNER.value, gettext_lazy("Owner")),
]
_COMMON_ZONES = (
    *("UTC", "Europe/London", "Europe/Berlin", "Europe/Paris", "Europe/Madrid", "Europe/Rome"),
    *("Europe/Warsaw", "Europe/Athens", "Africa/Johannesburg", "Asia/Dubai", "Asia/Kolkata"),
    *("Asia/Singapore", "Asia/Tokyo", "Australia/Sydney", "Pacific/Auckland"),
    *("America/New_York", "America/Chicago", "America/Denver", "America/Los_Angeles"),
    *("America/Toronto", "America/Mexico_City", "America/Sao_Paulo"),
)
# Names by continent or ocean; the others of the tz database are older names of these.
_REGIONS = (
    *("Africa", "America", "Antarctica", "Arctic", "Asia"),
    *("Atlantic", "Australia", "Europe", "Indian", "Pacific"),
)


def zone_choices(kept: str = "") -> list[tuple[str, list[tuple[str, str]]]]:
    """Return time zones in groups, those most shops need first; `kept` stays choosable."""
    known = available_timezones()
    groups = [(gettext("Often needed"), [z for z in _COMMON_ZONES if z in known])]
    groups += [(r, sorted(z for z in known if z.startswith(f"{r}/"))) for r in _REGIONS]
    if kept and not any(kept in names for _, names in groups):
        groups.insert(0, (gettext("As it is"), [kept]))
    return [
        (group, [(name, name.partition("/")[2].replace("_", " ") or name) for name in names])
        for group, names in groups
    ]


class SignInForm(AuthenticationForm):
    """Username and password, with one sentence when they do not fit."""

    error_messages = {
        "invalid_login": gettext_lazy(
            "Username or password is not right; check both and try again."
        ),
        "inactive": gettext_lazy("This sign-in was switched off; ask the shop's owner."),
    }


class LanguageForm(forms.Form):
    """In which language a person reads."""

    language = forms.ChoiceField(
        label=gettext_lazy("Language of pages and papers"),
        required=False,
        choices=lambda: [("", gettext("As the browser asks")), *language_choices()],
        widget=forms.RadioSelect,
    )


class EmailForm(forms.Form):
    """Where a person gets e-mail."""

    email = forms.EmailField(
        label=gettext_lazy("E-mail address"),
        max_length=254,
        required=False,
        widget=forms.EmailInput(attrs={"autocomplete": "email"}),
        help_text=gettext_lazy("Leave it empty to get none."),
    )


class PasswordFieldsMixin(forms.Form):
    """A new password, typed twice and checked against the person's own data."""

    password = forms.CharField(
        label=gettext_lazy("Password"),
        strip=False,
        widget=forms.PasswordInput(attrs={"autocomplete": "new-password"}),
        help_text=gettext_lazy(
            "At least 8 characters, not only digits, and nothing easily guessed."
        ),
    )
    password_again = forms.CharField(
        label=gettext_lazy("Password again"),
        strip=False,
        widget=forms.PasswordInput(attrs={"autocomplete": "new-password"}),
    )

    def person(self) -> User:
        """Return the person the password is for, as far as he is known."""
        return User(
            username=self.cleaned_data.get("username", ""),
            name=self.cleaned_data.get("name", ""),
        )

    def clean(self) -> dict[str, Any] | None:
        cleaned = super().clean()
        password = self.cleaned_data.get("password") or ""
        again = self.cleaned_data.get("password_again") or ""
        if password and password != again:
            self.add_error(
                "password_again", gettext("The two passwords differ; type both once more.")
            )
        elif password:
            try:
                validate_password(password, self.person())
            except ValidationError as error:
                self.add_error("password", error)
        return cleaned


class NewPersonMixin(PasswordFieldsMixin):
    """Name, username and password of somebody who makes their own account."""

    name = forms.CharField(
        label=gettext_lazy("Your name"),
        max_length=120,
        widget=forms.TextInput(attrs={"autocomplete": "name"}),
    )
    username = forms.CharField(
        label=gettext_lazy("Username"),
        max_length=150,
        help_text=gettext_lazy("What you sign in with; letters, digits and @ . + - _."),
        validators=[User.username_validator],
        widget=forms.TextInput(attrs={"autocomplete": "username", "autocapitalize": "none"}),
    )


class FirstRunForm(NewPersonMixin):
    """The shop and its owner, when there is no shop yet."""

    shop_name = forms.CharField(label=gettext_lazy("Shop name"), max_length=120)
    time_zone = forms.ChoiceField(
        label=gettext_lazy("Time zone"), choices=zone_choices, initial="UTC"
    )
    pressure_unit = forms.ChoiceField(
        label=gettext_lazy("Pressure in"),
        choices=Shop.PressureUnit.choices,
        initial=Shop.PressureUnit.KPA,
        widget=forms.RadioSelect,
    )
    distance_unit = forms.ChoiceField(
        label=gettext_lazy("Distance in"),
        choices=Shop.DistanceUnit.choices,
        initial=Shop.DistanceUnit.KM,
        widget=forms.RadioSelect,
    )
    paper_size = forms.ChoiceField(
        label=gettext_lazy("Paper"),
        choices=Shop.PaperSize.choices,
        initial=Shop.PaperSize.A4,
        widget=forms.RadioSelect,
    )
    currency = forms.CharField(
        label=gettext_lazy("Amounts in"),
        max_length=3,
        initial="EUR",
        validators=Shop._meta.get_field("currency").validators,  # noqa: SLF001 - Django's own way
        help_text=gettext_lazy("Three letters, such as EUR, GBP or USD."),
        widget=forms.TextInput(
            attrs={"size": 4, "autocapitalize": "characters", "spellcheck": "false"}
        ),
    )

    def clean_currency(self) -> str:
        """Take small letters too."""
        return str(self.cleaned_data["currency"]).upper()

    @property
    def about_shop(self) -> dict[str, Any]:
        """What was said of the shop beside its name."""
        names = ("time_zone", "pressure_unit", "distance_unit", "paper_size", "currency")
        return {name: self.cleaned_data[name] for name in names}

    field_order = ["shop_name", "time_zone", "name", "username", "password", "password_again"]


class JoinForm(NewPersonMixin):
    """Somebody new who was invited: the link says the rest."""

    field_order = ["name", "username", "password", "password_again"]


class InviteForm(AsksBack, forms.Form):
    """For whom a link is, and what they become."""

    form_token = forms.UUIDField(widget=forms.HiddenInput, initial=uuid4, required=False)
    label = forms.CharField(
        label=gettext_lazy("For whom"),
        max_length=80,
        help_text=gettext_lazy("So that you know later whose link it was."),
    )
    role = forms.ChoiceField(label=gettext_lazy("Role"), choices=_ROLES, widget=forms.RadioSelect)


class MemberAddForm(PasswordFieldsMixin):
    """Somebody who joins the shop, new here or known from another shop of this server."""

    name = forms.CharField(
        label=gettext_lazy("Name"),
        max_length=120,
        required=False,
        help_text=gettext_lazy("Leave empty for somebody who already signs in on this server."),
    )
    username = forms.CharField(
        label=gettext_lazy("Username"),
        max_length=150,
        help_text=gettext_lazy("Letters, digits and @ . + - _."),
        validators=[User.username_validator],
        widget=forms.TextInput(attrs={"autocomplete": "off", "autocapitalize": "none"}),
    )
    role = forms.ChoiceField(label=gettext_lazy("Role"), choices=_ROLES, widget=forms.RadioSelect)

    field_order = ["username", "name", "role", "password", "password_again"]

    def __init__(self, *args: Any, shop: Shop, **kwargs: Any) -> None:  # noqa: ANN401
        super().__init__(*args, **kwargs)
        self.shop = shop
        self.fields["password"].label = gettext("First password")
        self.fields["password"].required = False
        self.fields["password_again"].required = False

    def clean(self) -> dict[str, Any] | None:
        cleaned = super().clean()
        username = self.cleaned_data.get("username")
        if not username:
            return cleaned
        if Member.objects.filter(shop=self.shop, user__username=username).exists():
            self.add_error(
                "username",
                gettext("This person is already in the shop; change the role in the list."),
            )
        elif User.objects.filter(username=username).exists():
            # Whoever holds the name knows its password: a newcomer must not be taken for him.
            if self.cleaned_data.get("name") or self.cleaned_data.get("password"):
                self.add_error(
                    "username",
                    gettext(
                        "Somebody on this server signs in with this name already. If it is that "
                        "person, leave name and password empty; otherwise choose another username."
                    ),
                )
        else:
            if not self.cleaned_data.get("name"):
                self.add_error("name", gettext("A new person needs a name."))
            if not self.cleaned_data.get("password") and "password" not in self.errors:
                self.add_error("password", gettext("A new person needs a first password."))
        return cleaned


class MemberChangeForm(VersionedForm):
    """Role and activity of a member."""

    class Meta:
        model = Member
        fields = ["role", "active"]
        widgets = {"role": forms.RadioSelect}
        labels = {"active": gettext_lazy("Works in this shop")}
        help_texts = {
            "active": gettext_lazy(
                "Take the tick away when the person leaves; what they recorded stays, "
                "and their tokens in this shop end for good."
            ),
        }

    def __init__(self, *args: Any, **kwargs: Any) -> None:  # noqa: ANN401
        super().__init__(*args, **kwargs)
        # Without the empty choice that Django puts first.
        self.fields["role"].choices = _ROLES  # type: ignore[attr-defined]


class MemberPasswordForm(PasswordFieldsMixin):
    """A new password for a member who forgot his."""

    def __init__(self, *args: Any, user: User, **kwargs: Any) -> None:  # noqa: ANN401
        super().__init__(*args, **kwargs)
        self.user = user

    def person(self) -> User:
        return self.user


class OwnPasswordForm(PasswordChangeForm):
    """A new password of one's own, and what becomes of one's programs."""

    revoke_tokens = forms.BooleanField(
        label=gettext_lazy("End my tokens too"),
        required=False,
        initial=True,
        help_text=gettext_lazy(
            "A token is a sign-in of its own: whoever holds its key keeps it, whatever "
            "the password. Leave the tick unless you are sure of all of them."
        ),
    )

    def __init__(self, user: User, *args: Any, **kwargs: Any) -> None:  # noqa: ANN401
        super().__init__(user, *args, **kwargs)
        self.live = live_tokens_of(user).count()
        if not self.live:
            del self.fields["revoke_tokens"]

    @property
    def ends_tokens(self) -> bool:
        """Whether the person asked to end his tokens."""
        return bool(self.cleaned_data.get("revoke_tokens"))


class ShopForm(VersionedForm):
    """Letterhead, units and limits of the shop."""

    time_zone = forms.ChoiceField(label=gettext_lazy("Time zone"), choices=zone_choices)
    hourly_rate = NumberField(
        label=gettext_lazy("An hour of labour"),
        required=False,
        min_value=0.01,
        max_value=999_999,
        help_text=gettext_lazy(
            "Time used then counts at this rate, with the parts, against the agreed amount. "
            "Leave it empty to count parts alone."
        ),
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:  # noqa: ANN401 - Django's signature
        super().__init__(*args, **kwargs)
        zone = cast("forms.ChoiceField", self.fields["time_zone"])
        zone.choices = zone_choices(self.instance.time_zone)

    def clean_currency(self) -> str:
        """Take small letters too."""
        return str(self.cleaned_data["currency"]).upper()

    def clean_hourly_rate(self) -> Decimal | None:
        """Take what was typed to the cent."""
        rate = self.cleaned_data["hourly_rate"]
        return None if rate is None else Decimal(str(rate)).quantize(Decimal("0.01"))

    class Meta:
        model = Shop
        fields = SHOP_FIELDS
        field_classes = {
            "suspect_below": NumberField,
            "watch_below": NumberField,
            "bank_even_within": NumberField,
        }
        widgets = {
            "address": forms.Textarea(attrs={"rows": 3}),
            "phone": forms.TextInput(attrs={"type": "tel"}),
            "pressure_unit": forms.RadioSelect,
            "distance_unit": forms.RadioSelect,
            "paper_size": forms.RadioSelect,
            "decimal_sign": forms.RadioSelect,
            "currency": forms.TextInput(
                attrs={"size": 4, "autocapitalize": "characters", "spellcheck": "false"}
            ),
            "suspect_below": NumberField.widget,
            "watch_below": NumberField.widget,
            "bank_even_within": NumberField.widget,
            "altitude_m": forms.TextInput(attrs={"inputmode": "numeric", "size": 5}),
        }
        help_texts = {
            "currency": gettext_lazy(
                "Three letters, such as EUR, GBP or USD; an amount typed as a bare number "
                "gets it when it is saved."
            ),
            "suspect_below": gettext_lazy(
                "Relative compression under this is called suspect; "
                "1.00 is the mean of the good cylinders. 0.80 unless the shop knows better."
            ),
            "watch_below": gettext_lazy("From there up to this it is called watch; 0.88 at first."),
            "bank_even_within": gettext_lazy(
                "Difference of the banks' means from which one of them is called "
                "weaker, as a share of a good cylinder: 0.055 is 5.5 points. Banks of up to four "
                "cylinders that fire evenly are called from a little less."
            ),
            "paper_size": gettext_lazy("Of work orders and other papers saved as PDF."),
            "address": gettext_lazy("As it stands on printed sheets."),
            "altitude_m": gettext_lazy(
                "Least gauge values are lowered for it, about 1 % per 75 to 100 m."
            ),
        }


class TokenForm(AsksBack, forms.Form):
    """A new token's purpose."""

    form_token = forms.UUIDField(widget=forms.HiddenInput, initial=uuid4, required=False)
    label = forms.CharField(
        label=gettext_lazy("What it is for"),
        max_length=80,
        help_text=gettext_lazy("So that you know later which one to revoke, like “bench laptop”."),
    )
