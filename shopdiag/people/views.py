"""Pages about people: signing in, shops, team, settings, tokens."""

from copy import copy
from typing import Any, cast

from django.contrib import messages
from django.contrib.auth import login
from django.contrib.auth.decorators import login_required
from django.contrib.auth.forms import AuthenticationForm, PasswordChangeForm
from django.contrib.auth.views import LoginView, LogoutView, PasswordChangeView
from django.core.exceptions import ValidationError
from django.db import transaction
from django.db.models import QuerySet
from django.forms import BaseForm
from django.http import HttpRequest, HttpResponse, HttpResponseBase, QueryDict
from django.shortcuts import get_object_or_404, redirect, render
from django.template.response import TemplateResponse
from django.urls import reverse, reverse_lazy
from django.utils import timezone, translation
from django.utils.translation import gettext as _
from django.utils.translation import ngettext
from django.views.decorators.cache import never_cache
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_http_methods, require_POST

from shopdiag.people.access import MemberRequest, requires
from shopdiag.people.core.roles import Action
from shopdiag.people.core.row_ids import is_row_id
from shopdiag.people.editing import edit_versioned, post_form
from shopdiag.people.forms import (
    EmailForm,
    LanguageForm,
    MemberAddForm,
    MemberChangeForm,
    MemberPasswordForm,
    OwnPasswordForm,
    SignInForm,
    TokenForm,
)
from shopdiag.people.kept_forms import form_of
from shopdiag.people.kept_labels import typed_lines
from shopdiag.people.language import is_language, language_choices, language_of
from shopdiag.people.middleware import SHOP_KEY, zone_of
from shopdiag.people.models import ApiToken, Member, User
from shopdiag.people.selectors import (
    any_shop,
    member_for,
    members_of,
    memberships_of,
    shop_of,
    tokens_in_shop,
    tokens_of,
)
from shopdiag.people.services import (
    ShopExistsError,
    email_set,
    first_shop_open,
    language_set,
    member_add,
    member_change,
    member_password_set,
    shop_change,
    token_create,
    token_revoke,
    tokens_revoke,
)
from shopdiag.people.shop_forms import FirstRunForm, ShopForm
from shopdiag.people.versioned import VersionedForm

# A form that comes back with mistakes.
UNPROCESSABLE = 422


class SignInView(LoginView):
    """Sign in; an installation without a shop starts with the first-run page."""

    template_name = "people/sign_in.html"
    chosen = ""
    """The language picked on this page; it becomes the person's own."""
    authentication_form = SignInForm
    redirect_authenticated_user = True

    def dispatch(self, request: HttpRequest, *args: object, **kwargs: object) -> HttpResponseBase:
        if not any_shop():
            return redirect("people:first-run")
        asked = request.POST.get("language") or request.GET.get("language", "")
        self.chosen = asked if is_language(asked) else ""
        with translation.override(self.chosen or translation.get_language()):
            answer = super().dispatch(request, *args, **kwargs)
            # In this language, before the page's own one is back.
            return answer.render() if isinstance(answer, TemplateResponse) else answer

    def get_context_data(self, **kwargs: Any) -> dict[str, Any]:  # noqa: ANN401 - Django's signature
        kept = form_of(self.request.POST.get("kept", ""))
        return super().get_context_data(**kwargs) | {
            "kept": kept.signed() if kept else "",
            "kept_files": kept.files if kept else (),
            "languages": language_choices(),
            "chosen": self.chosen,
        }

    def form_valid(self, form: AuthenticationForm) -> HttpResponse:
        answer = super().form_valid(form)
        if self.chosen:
            language_set(user=form.get_user(), language=self.chosen)
        kept = form_of(self.request.POST.get("kept", ""))
        if kept is None:
            return answer
        # After `login`: the page carries the new session's own token, and is read by who signed in.
        request = cast("MemberRequest", self.request)
        member = member_for(form.get_user(), request.session.get(SHOP_KEY))
        request.member = member  # type: ignore[assignment]
        with translation.override(language_of(request)), timezone.override(zone_of(member)):
            context = {"kept": kept, "typed": typed_lines(request, kept)}
            return render(request, "people/kept.html", context)


class SignOutView(LogoutView):
    """End the session, and have the browser forget what it kept of this site."""

    def post(self, request: HttpRequest, *args: object, **kwargs: object) -> HttpResponse:
        answer = super().post(request, *args, **kwargs)
        # W3C “Clear Site Data”, section 3.1; browsers obey over HTTPS and on localhost.
        answer.headers["Clear-Site-Data"] = '"cache", "storage"'
        return answer


class OwnPasswordView(PasswordChangeView):
    """Change one's own password."""

    template_name = "people/own_password.html"
    form_class = OwnPasswordForm
    success_url = reverse_lazy("home")

    def form_valid(self, form: PasswordChangeForm) -> HttpResponse:
        with transaction.atomic():
            answer = super().form_valid(form)
            ended = 0
            if cast("OwnPasswordForm", form).ends_tokens:
                member: Member | None = self.request.member  # type: ignore[attr-defined]
                ended = tokens_revoke(user=cast("User", self.request.user), by=member)
        told = _("Your password is changed.")
        if ended:
            tokens = ngettext("%(count)s token has ended.", "%(count)s tokens have ended.", ended)
            told += " " + tokens % {"count": ended}
        messages.success(self.request, told)
        return answer


@require_http_methods(["GET", "POST"])
def own_language(request: HttpRequest) -> HttpResponse:
    """Choose the language one reads in."""
    user = cast("User", request.user)
    form = LanguageForm(_posted(request), initial={"language": user.language})
    if request.method == "POST" and form.is_valid():
        language_set(user=user, language=form.cleaned_data["language"])
        with translation.override(language_of(request)):
            messages.success(request, _("Pages and papers are in this language from now on."))
        return redirect("home")
    return render(request, "people/language.html", {"form": form}, status=_status(form))


@require_http_methods(["GET", "POST"])
def own_email(request: HttpRequest) -> HttpResponse:
    """Say where one gets e-mail."""
    user = cast("User", request.user)
    form = EmailForm(_posted(request), initial={"email": user.email})
    if request.method == "POST" and form.is_valid():
        email_set(user=user, email=form.cleaned_data["email"])
        told = _("E-mail goes to this address from now on.")
        messages.success(request, told if user.email else _("You get no e-mail from now on."))
        return redirect("home")
    return render(request, "people/email.html", {"form": form}, status=_status(form))


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
                owner_name=given["name"],
                username=given["username"],
                password=given["password"],
                **form.about_shop,
            )
        except ShopExistsError:
            messages.info(request, _("Somebody else opened the shop just now; sign in there."))
            return redirect("people:sign-in")
        except ValidationError as error:
            form.add_error(None, error.messages)
        else:
            login(request, owner.user, backend="django.contrib.auth.backends.ModelBackend")
            request.session[SHOP_KEY] = owner.shop_id
            messages.success(request, _("The shop is open. Your next steps stand below."))
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
    return post_form(
        request,
        form=form,
        save=lambda: member_add(
            shop=request.member.shop,
            name=form.cleaned_data["name"],
            username=form.cleaned_data["username"],
            role=form.cleaned_data["role"],
            password=form.cleaned_data["password"],
        ),
        page="people/member_add.html",
        done=reverse("people:team"),
        saved=lambda added: _("%(name)s is in the shop.") % {"name": added.name},
    )


@requires(Action.KEEP_SHOP)
@require_http_methods(["GET", "POST"])
def change_member(request: MemberRequest, pk: int) -> HttpResponse:
    """Change a member's role, or note that he left."""
    person = get_object_or_404(members_of(request.member), pk=pk)

    def save(form: VersionedForm) -> None:
        member_change(
            member=form.instance,
            role=form.cleaned_data["role"],
            active=form.cleaned_data["active"],
            by=request.member,
            expected_version=form.expected_version,
        )

    return edit_versioned(
        request,
        # A row of the form's own: what the page's head says stays as it is saved.
        form=MemberChangeForm(_posted(request), instance=copy(person)),
        save=save,
        template="people/member.html",
        context={"person": person},
        # An owner who steps down no longer sees the team.
        done=reverse("home" if person.pk == request.member.pk else "people:team"),
        saved=_("%(name)s: saved.") % {"name": person.name},
    )


@sensitive_post_parameters("password", "password_again")
@requires(Action.KEEP_SHOP)
@require_http_methods(["GET", "POST"])
def member_password(request: MemberRequest, pk: int) -> HttpResponse:
    """Give a member who forgot his password a new one."""
    person = get_object_or_404(members_of(request.member), pk=pk)
    form = MemberPasswordForm(_posted(request), user=person.user)
    return post_form(
        request,
        form=form,
        save=lambda: member_password_set(
            member=person, password=form.cleaned_data["password"], by=request.member
        ),
        page="people/member_password.html",
        context={"person": person},
        done=reverse("people:team"),
        saved=_("%(name)s signs in with the new password from now on.") % {"name": person.name},
    )


@requires(Action.KEEP_SHOP)
@require_http_methods(["GET", "POST"])
def shop(request: MemberRequest) -> HttpResponse:
    """Change the shop's letterhead, units and limits."""

    def save(form: VersionedForm) -> None:
        shop_change(
            shop=form.instance, expected_version=form.expected_version, member=request.member
        )

    return edit_versioned(
        request,
        form=ShopForm(_posted(request), instance=shop_of(request.member)),
        save=save,
        template="people/shop.html",
        context={},
        done=reverse("people:shop"),
    )


@requires(Action.KEEP_SHOP)
@require_http_methods(["GET"])
def shop_tokens(request: MemberRequest) -> HttpResponse:
    """Show whose programs may act in the shop, and when they last did."""
    return render(request, "people/shop_tokens.html", {"tokens": tokens_in_shop(request.member)})


@requires(Action.KEEP_SHOP)
@require_POST
def revoke_shop_token(request: MemberRequest, pk: int) -> HttpResponse:
    """End anybody's token in the shop."""
    return _revoked(request, tokens_in_shop(request.member), pk, "people:shop-tokens")


@requires(Action.SEE_WORK)
@never_cache
@require_http_methods(["GET", "POST"])
def tokens(request: MemberRequest) -> HttpResponse:
    """Show a member's own tokens and make a new one, whose key is shown this once."""
    form = TokenForm(_posted(request))
    token, key = None, ""
    if request.method == "POST" and form.is_valid():
        try:
            token, key = token_create(member=request.member, **form.cleaned_data)
        except ValidationError as error:
            form.add_error(None, error)
    status = _status(form)
    if token:
        form = TokenForm()
        status = 201 if key else 200
        if not key:
            messages.info(
                request,
                _(
                    "“%(label)s” was made the first time this was sent, and its key was shown "
                    "then. If nobody copied it, revoke that token and make another."
                )
                % {"label": token.label},
            )
    context = {"form": form, "key": key, "tokens": tokens_of(request.member)}
    return render(request, "people/tokens.html", context, status=status)


@requires(Action.SEE_WORK)
@require_POST
def revoke_token(request: MemberRequest, pk: int) -> HttpResponse:
    """End one of the member's own tokens."""
    return _revoked(request, tokens_of(request.member), pk, "people:tokens")


def _revoked(request: MemberRequest, among: QuerySet[ApiToken], pk: int, back: str) -> HttpResponse:
    token = get_object_or_404(among, pk=pk)
    token_revoke(token=token, by=request.member)
    messages.success(
        request,
        _("“%(label)s” is revoked; programs that use it are refused.") % {"label": token.label},
    )
    return redirect(back)


def _posted(request: HttpRequest) -> QueryDict | None:
    return request.POST if request.method == "POST" else None


def _status(form: BaseForm) -> int:
    return UNPROCESSABLE if form.errors else 200
