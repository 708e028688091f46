"""Keeping what was typed when a session ended in mid-form, until somebody has signed in again.

The form travels signed through the sign-in page and is nowhere stored: strangers fill no database.
"""

from dataclasses import dataclass

from django.core import signing
from django.http import HttpRequest

_SALT = "shopdiag.kept-form"
_LONGEST_S = 12 * 3600
_MOST_CHARACTERS = 200_000
_OWN = frozenset({"csrfmiddlewaretoken"})
_HIDDEN = frozenset({"form_token", "version", "run", "kind", "next", "judgement", "replaces", "to"})


@dataclass(frozen=True, slots=True)
class KeptForm:
    """A form that was sent without a session.

    Parameters
    ----------
    path
        Where it was sent to, with its query.
    items
        Its fields in order; one with several values stands several times.
    """

    path: str
    items: tuple[tuple[str, str], ...]

    @property
    def typed(self) -> tuple[tuple[str, str], ...]:
        """What a person reads of it: (name, value)."""
        return tuple(
            (name.replace("_", " ").replace("-", " "), value)
            for name, value in self.items
            if value.strip() and name not in _HIDDEN
        )

    def signed(self) -> str:
        """Return it as one line that only this installation makes."""
        return signing.dumps([self.path, self.items], salt=_SALT, compress=True)


def form_kept(request: HttpRequest) -> KeptForm | None:
    """Return what was typed in a request; None where there is nothing to keep.

    Files cannot be kept, and passwords are not.
    """
    if request.method != "POST" or request.FILES:
        return None
    if "application/json" in request.headers.get("Accept", "") or request.headers.get("HX-Request"):
        return None
    items = tuple(
        (name, value)
        for name, values in request.POST.lists()
        if name not in _OWN
        for value in values
        if isinstance(value, str)
    )
    size = sum(len(name) + len(value) for name, value in items)
    if not items or size > _MOST_CHARACTERS or any("password" in name for name, _ in items):
        return None
    return KeptForm(request.get_full_path(), items)


def form_of(signed: str) -> KeptForm | None:
    """Return the form behind a line of `KeptForm.signed`; None for any other or an old one."""
    try:
        path, items = signing.loads(signed, salt=_SALT, max_age=_LONGEST_S)
    except signing.BadSignature:
        return None
    return KeptForm(path, tuple((str(name), str(value)) for name, value in items))


def came_from_here(request: HttpRequest) -> bool:
    """Return whether the browser says that the form stood on a page of this very site."""
    return request.headers.get("Origin") == f"{request.scheme}://{request.get_host()}"
