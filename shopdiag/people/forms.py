"""What people type about themselves, their shop and its members."""

from typing import Any
from uuid import uuid4

from django import forms
from django.contrib.auth.forms import AuthenticationForm, PasswordChangeForm
from django.contrib.auth.password_validation import validate_password
from django.core.exceptions import ValidationError
from django.utils.translation import gettext, gettext_lazy

from shopdiag.people.asking_back import AsksBack
from shopdiag.people.core.roles import Role
from shopdiag.people.language import language_choices
from shopdiag.people.models import Member, Shop, User
from shopdiag.people.selectors import live_tokens_of
from shopdiag.people.versioned import VersionedForm

_ROLES = [
    (Role.DIAGNOSTICIAN.value, gettext_lazy("Diagnostician")),
    (Role.MECHANIC.value, gettext_lazy("Mechanic")),
    (Role.WRITER.value, gettext_lazy("Service writer")),
    (Role.OWNER.value, gettext_lazy("Owner")),
]
# Names by continent or ocean; the others of the tz database are older names of these.


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


class TokenForm(AsksBack, forms.Form):
    """A new token's purpose."""

    form_token = forms.UUIDField(widget=forms.HiddenInput, initial=uuid4, required=False)
    label = forms.CharField(
        label=gettext_lazy("What it is for"),
        max_length=80,
        help_text=gettext_lazy("So that you know later which one to revoke, like “bench laptop”."),
    )
