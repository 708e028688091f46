"""People in the administration pages, for whoever keeps the server."""

from typing import TYPE_CHECKING, Any, TypeAlias

from django.contrib import admin
from django.contrib.auth.admin import UserAdmin
from django.contrib.auth.forms import (
    AdminPasswordChangeForm,
    AdminUserCreationForm,
    UserChangeForm,
)
from django.http import HttpRequest
from django.utils.translation import gettext_lazy as _

from shopdiag.people.models import ApiToken, Member, Shop, User
from shopdiag.people.services import tokens_revoke, tokens_revoke_of_inactive

if TYPE_CHECKING:
    MemberRows: TypeAlias = admin.TabularInline[Member, Shop]
    ShopPages: TypeAlias = admin.ModelAdmin[Shop]
    TokenPages: TypeAlias = admin.ModelAdmin[ApiToken]
    PersonPages: TypeAlias = UserAdmin[User]
    PersonCreation: TypeAlias = AdminUserCreationForm[User]
    PersonChange: TypeAlias = UserChangeForm[User]
    PersonPassword: TypeAlias = AdminPasswordChangeForm[User]
else:
    MemberRows = admin.TabularInline
    ShopPages = TokenPages = admin.ModelAdmin
    PersonPages = UserAdmin
    PersonCreation = AdminUserCreationForm
    PersonChange = UserChangeForm
    PersonPassword = AdminPasswordChangeForm


class PersonCreationForm(PersonCreation):
    class Meta:
        model = User
        fields = ("username", "name")


class PersonChangeForm(PersonChange):
    class Meta:
        model = User
        fields = "__all__"


class PersonPasswordForm(PersonPassword):
    """A password set from here ends the person's tokens, as one set by an owner does."""

    def save(self, commit: bool = True) -> User:
        user = super().save(commit)
        if commit:
            tokens_revoke(user=user, by=None)
        return user


@admin.register(User)
class PersonAdmin(PersonPages):
    form = PersonChangeForm
    add_form = PersonCreationForm
    list_display = ("username", "name", "is_active", "is_superuser", "last_login")
    search_fields = ("username", "name")
    fieldsets = (
        (None, {"fields": ("username", "password")}),
        (_("Person"), {"fields": ("name", "email")}),
        (_("Server"), {"fields": ("is_active", "is_staff", "is_superuser")}),
        (_("Dates"), {"fields": ("last_login", "date_joined")}),
    )
    add_fieldsets = ((None, {"fields": ("username", "name", "password1", "password2")}),)
    filter_horizontal = ()
    change_password_form = PersonPasswordForm

    def save_related(self, *args: Any, **kwargs: Any) -> None:  # noqa: ANN401
        super().save_related(*args, **kwargs)
        tokens_revoke_of_inactive()


class MemberInline(MemberRows):
    model = Member
    extra = 0
    autocomplete_fields = ("user",)


@admin.register(Shop)
class ShopAdmin(ShopPages):
    list_display = ("name", "time_zone", "created_at")
    search_fields = ("name",)
    inlines = (MemberInline,)

    def save_related(self, *args: Any, **kwargs: Any) -> None:  # noqa: ANN401
        super().save_related(*args, **kwargs)
        tokens_revoke_of_inactive()


@admin.register(ApiToken)
class ApiTokenAdmin(TokenPages):
    list_display = ("label", "member", "created_at", "last_used_at", "revoked_at", "revoked_by")
    list_select_related = ("member__user", "revoked_by__user")
    readonly_fields = (
        "member",
        "label",
        "created_at",
        "last_used_at",
        "revoked_at",
        "revoked_by",
    )

    # Keys are made where they can be shown: on the member's own page.
    def has_add_permission(self, request: HttpRequest) -> bool:  # noqa: ARG002 - Django's signature
        return False
