"""The gate in front of every page: signed in, in a shop, and in a role that does this."""

from collections.abc import Callable
from functools import wraps
from typing import Concatenate, ParamSpec
from urllib.parse import urlsplit

from django.contrib.auth.views import redirect_to_login
from django.http import HttpRequest, HttpResponse, HttpResponseBase
from django.shortcuts import redirect, render
from django_htmx.http import HttpResponseClientRedirect

from shopdiag.people.core.roles import Action
from shopdiag.people.forms import SignInForm
from shopdiag.people.kept_forms import form_kept
from shopdiag.people.models import Member


class MemberRequest(HttpRequest):
    """A request that passed the gate."""

    member: Member


P = ParamSpec("P")


def requires(
    *actions: Action,
) -> Callable[
    [Callable[Concatenate[MemberRequest, P], HttpResponseBase]],
    Callable[Concatenate[HttpRequest, P], HttpResponseBase],
]:
    """Let only members through who may do one of `actions`.

    Strangers go to the sign-in page, people of several shops choose one first, and a
    member whose role does not do this gets a 403 that says who does.
    """

    def decorate(
        view: Callable[Concatenate[MemberRequest, P], HttpResponseBase],
    ) -> Callable[Concatenate[HttpRequest, P], HttpResponseBase]:
        @wraps(view)
        def gate(request: HttpRequest, /, *args: P.args, **kwargs: P.kwargs) -> HttpResponseBase:
            if not request.user.is_authenticated:
                return _sign_in(request)
            member: Member | None = request.member  # type: ignore[attr-defined]
            if member is None:
                return redirect("people:shops")
            if not any(member.may(action) for action in actions):
                return forbidden(request)
            return view(request, *args, **kwargs)  # type: ignore[arg-type]

        # The test of wrong roles walks all pages and reads this.
        gate.required_actions = actions  # type: ignore[attr-defined]
        return gate

    return decorate


def _sign_in(request: HttpRequest) -> HttpResponse:
    """Ask to sign in, and take along what was typed into a form whose session has ended."""
    kept = form_kept(request)
    if kept is None:
        answer = redirect_to_login(request.get_full_path())
        # A page that fetches a part of itself leaves for the sign-in page as a whole.
        asking = request.htmx.current_url_abs_path if request.htmx else None  # type: ignore[attr-defined]
        if asking and urlsplit(asking).path == request.path:
            return HttpResponseClientRedirect(answer.url)
        return answer
    return render(
        request,
        "people/sign_in.html",
        {"form": SignInForm(request), "kept": kept.signed(), "kept_files": kept.files, "next": ""},
        status=403,
    )


def forbidden(request: HttpRequest) -> HttpResponse:
    """Say that the role does not do this."""
    return render(request, "people/forbidden.html", status=403)
