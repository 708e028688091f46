"""Pages about people: signing in, shops, team, settings, tokens."""

from typing import cast

from django.contrib import messages
from django.contrib.auth import login
from django.contrib.auth.decorators import login_required
from django.contrib.auth.views import LoginView, PasswordChangeView
from django.core.exceptions import ValidationError
from django.forms import BaseForm
from django.http import HttpRequest, HttpResponse, HttpResponseBase, QueryDict
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse_lazy
from django.views.decorators.cache import never_cache
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_http_methods, require_POST

from shopdiag.people.access import MemberRequest, requires
from shopdiag.people.core.roles import Action
from shopdiag.people.core.row_ids import is_row_id
from shopdiag.people.forms import (
    FirstRunForm,
    MemberAddForm,
    MemberChangeForm,
    MemberPasswordForm,
    ShopForm,
    SignInForm,
    TokenForm,
)
from shopdiag.people.middleware import SHOP_KEY
from shopdiag.people.models import User
from shopdiag.people.selectors import any_shop, members_of, memberships_of, shop_of, tokens_of
from shopdiag.people.services import (
    ShopExistsError,
    first_shop_open,
    member_add,
    member_change,
    member_password_set,
    shop_change,
    token_create,
    token_revoke,
)

# A form that comes back with mistakes.
UNPROCESSABLE = 422


class SignInView(LoginView):
    """Sign in; an installation without a shop starts with the first-run page."""

    template_name = "people/sign_in.html"
    authentication_form = SignInForm
    redirect_authenticated_user = True

    def dispatch(self, request: HttpRequest, *args: object, **kwargs: object) -> HttpResponseBase:
        if not any_shop():
            return redirect("people:first-run")
        return super().dispatch(request, *args, **kwargs)


class OwnPasswordView(PasswordChangeView):
    """Change one's own password."""

    template_name = "people/own_password.html"
    success_url = reverse_lazy("home")

    def get_success_url(self) -> str:
        messages.success(self.request, "Your password is changed.")
        return super().get_success_url()


@sensitive_post_parameters("password", "password_again")
@never_cache
@require_http_methods(["GET", "POST"])
def first_run(request: HttpRequest) -> HttpResponse:
    """Open the first shop and sign its owner in; afterwards this page is gone."""
    if any_shop():
        return redirect("people:sign-in")
    form = FirstRunForm(_posted(request))
    if request.method == "POST" and form.is_valid():
        given = form.cleaned_data
        try:
            owner = first_shop_open(
                shop_name=given["shop_name"],
                time_zone=given["time_zone"],
                owner_name=given["name"],
                username=given["username"],
                password=given["password"],
            )
        except ShopExistsError:
            messages.info(request, "Somebody else opened the shop just now; sign in there.")
            return redirect("people:sign-in")
        except ValidationError as error:
            form.add_error(None, error.messages)
        else:
            login(request, owner.user, backend="django.contrib.auth.backends.ModelBackend")
            request.session[SHOP_KEY] = owner.shop_id
            messages.success(request, "The shop is open. Add your people under Shop.")
            return redirect("home")
    return render(request, "people/first_run.html", {"form": form}, status=_status(form))


@login_required
@require_http_methods(["GET", "POST"])
def shops(request: HttpRequest) -> HttpResponse:
    """Choose the shop to work in."""
    choices = memberships_of(cast("User", request.user)).order_by("shop__name")
    if request.method == "POST":
        shop_id = request.POST.get("shop", "")
        is_id = is_row_id(shop_id)
        chosen = get_object_or_404(choices, shop_id=int(shop_id) if is_id else 0)
        request.session[SHOP_KEY] = chosen.shop_id
        return redirect("home")
    return render(request, "people/shops.html", {"choices": choices})


@requires(Action.KEEP_SHOP)
@require_http_methods(["GET"])
def team(request: MemberRequest) -> HttpResponse:
    """Show everybody in the shop."""
    return render(request, "people/team.html", {"people": members_of(request.member)})


@sensitive_post_parameters("password", "password_again")
@requires(Action.KEEP_SHOP)
@require_http_methods(["GET", "POST"])
def add_member(request: MemberRequest) -> HttpResponse:
    """Take somebody into the shop."""
    form = MemberAddForm(_posted(request), shop=request.member.shop)
    if request.method == "POST" and form.is_valid():
        given = form.cleaned_data
        try:
            added = member_add(
                shop=request.member.shop,
                name=given["name"],
                username=given["username"],
                role=given["role"],
                password=given["password"],
            )
        except ValidationError as error:
            form.add_error(None, error.messages)
        else:
            messages.success(request, f"{added.name} is in the shop.")
            return redirect("people:team")
    return render(request, "people/member_add.html", {"form": form}, status=_status(form))


@requires(Action.KEEP_SHOP)
@require_http_methods(["GET", "POST"])
def change_member(request: MemberRequest, pk: int) -> HttpResponse:
    """Change a member's role, or note that he left."""
    person = get_object_or_404(members_of(request.member), pk=pk)
    form = MemberChangeForm(
        _posted(request), initial={"role": person.role, "active": person.active}
    )
    if request.method == "POST" and form.is_valid():
        try:
            member_change(
                member=person,
                role=form.cleaned_data["role"],
                active=form.cleaned_data["active"],
            )
        except ValidationError as error:
            form.add_error(None, error)
        else:
            messages.success(request, f"{person.name}: saved.")
            # An owner who steps down no longer sees the team.
            return redirect("home" if person.pk == request.member.pk else "people:team")
    context = {"form": form, "person": person}
    return render(request, "people/member.html", context, status=_status(form))


@sensitive_post_parameters("password", "password_again")
@requires(Action.KEEP_SHOP)
@require_http_methods(["GET", "POST"])
def member_password(request: MemberRequest, pk: int) -> HttpResponse:
    """Give a member who forgot his password a new one."""
    person = get_object_or_404(members_of(request.member), pk=pk)
    form = MemberPasswordForm(_posted(request), user=person.user)
    if request.method == "POST" and form.is_valid():
        try:
            member_password_set(member=person, password=form.cleaned_data["password"])
        except ValidationError as error:
            form.add_error(None, error)
        else:
            messages.success(request, f"{person.name} signs in with the new password from now on.")
            return redirect("people:team")
    context = {"form": form, "person": person}
    return render(request, "people/member_password.html", context, status=_status(form))


@requires(Action.KEEP_SHOP)
@require_http_methods(["GET", "POST"])
def shop(request: MemberRequest) -> HttpResponse:
    """Change the shop's letterhead, units and limits."""
    form = ShopForm(_posted(request), instance=shop_of(request.member))
    if request.method == "POST" and form.is_valid():
        shop_change(shop=form.instance)
        messages.success(request, "Saved.")
        return redirect("people:shop")
    return render(request, "people/shop.html", {"form": form}, status=_status(form))


@requires(Action.SEE_WORK)
@never_cache
@require_http_methods(["GET", "POST"])
def tokens(request: MemberRequest) -> HttpResponse:
    """Show a member's own tokens and make a new one, whose key is shown this once."""
    form = TokenForm(_posted(request))
    key = None
    status = _status(form)
    if request.method == "POST" and form.is_valid():
        _, key = token_create(member=request.member, label=form.cleaned_data["label"])
        form = TokenForm()
        status = 201
    context = {"form": form, "key": key, "tokens": tokens_of(request.member)}
    return render(request, "people/tokens.html", context, status=status)


@requires(Action.SEE_WORK)
@require_POST
def revoke_token(request: MemberRequest, pk: int) -> HttpResponse:
    """End one of the member's own tokens."""
    token = get_object_or_404(tokens_of(request.member), pk=pk)
    token_revoke(token=token)
    messages.success(request, f"“{token.label}” is revoked; programs that use it are refused.")
    return redirect("people:tokens")


def _posted(request: HttpRequest) -> QueryDict | None:
    return request.POST if request.method == "POST" else None


def _status(form: BaseForm) -> int:
    return UNPROCESSABLE if form.errors else 200
