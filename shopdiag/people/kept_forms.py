"""Keeping what was typed when a session ended in mid-form, until somebody has signed in again.

The form travels signed through the sign-in page and is nowhere stored: strangers fill no database.
"""

from dataclasses import dataclass
from urllib.parse import urlsplit

from django.core import signing
from django.http import HttpRequest
from django.utils.http import url_has_allowed_host_and_scheme

_SALT = "shopdiag.kept-form"
_LONGEST_S = 12 * 3600
_MOST_CHARACTERS = 200_000
_MOST_FILES = 50
_LONGEST_FILE_NAME = 200
_LONGEST_PAGE = 2_000
PASSED_OVER = "files_passed_over"
"""Attribute of a request: the files of a stranger, whose content was not read."""
_OWN = frozenset({"csrfmiddlewaretoken"})
_HIDDEN = frozenset(
    {
        "form_token",
        "version",
        "opened",
        "confirmed",
        "run",
        "kind",
        "next",
        "judgement",
        "replaces",
        "seen",
        "to",
    }
)


@dataclass(frozen=True, slots=True)
class LostFile:
    """A file that came with a form and cannot be kept.

    Parameters
    ----------
    field
        The form's field that it came in.
    name
        What it was called.
    """

    field: str
    name: str


@dataclass(frozen=True, slots=True)
class KeptForm:
    """A form that was sent without a session.

    Parameters
    ----------
    path
        Where it was sent to, with its query.
    items
        Its fields in order; one with several values stands several times.
    files
        What has to be chosen again.
    page
        The page it stood on, with its query; empty where the browser did not say.
    """

    path: str
    items: tuple[tuple[str, str], ...]
    files: tuple[LostFile, ...] = ()
    page: str = ""

    @staticmethod
    def is_own(name: str) -> bool:
        """Return whether a field is the form's own, which nobody typed."""
        return name in _HIDDEN

    @property
    def file_fields(self) -> tuple[tuple[str, tuple[str, ...]], ...]:
        """The fields to choose files in again, each with the names of what came in it."""
        names: dict[str, list[str]] = {}
        for file in self.files:
            names.setdefault(file.field, []).append(file.name)
        return tuple((field, tuple(of_field)) for field, of_field in names.items())

    def signed(self) -> str:
        """Return it as one line that only this installation makes."""
        files = [[file.field, file.name] for file in self.files]
        return signing.dumps([self.path, self.items, files, self.page], salt=_SALT, compress=True)


def form_kept(request: HttpRequest) -> KeptForm | None:
    """Return what was typed in a request; None where there is nothing to keep.

    Files cannot be kept: their names are, so that they can be chosen again. Passwords are not.
    """
    if request.method != "POST":
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
    files = _files_of(request)
    size = sum(len(name) + len(value) for name, value in items)
    if (
        not (items or files)
        or size > _MOST_CHARACTERS
        or any("password" in name for name, _ in items)
    ):
        return None
    return KeptForm(request.get_full_path(), items, files, _page_of(request))


def _page_of(request: HttpRequest) -> str:
    """Return the page of this site that the browser came from."""
    said = request.headers.get("Referer", "")
    if not url_has_allowed_host_and_scheme(said, allowed_hosts={request.get_host()}):
        return ""
    parts = urlsplit(said)
    page = parts.path + (f"?{parts.query}" if parts.query else "")
    return page if len(page) <= _LONGEST_PAGE else ""


def _files_of(request: HttpRequest) -> tuple[LostFile, ...]:
    """Return what came as files, whether it was read or passed over."""
    read = [(field, file) for field, files in request.FILES.lists() for file in files]
    found = [
        *(LostFile(field, file.name or "") for field, file in read),
        *getattr(request, PASSED_OVER, ()),
    ]
    return tuple(
        LostFile(file.field, file.name[-_LONGEST_FILE_NAME:]) for file in found[:_MOST_FILES]
    )


def form_of(signed: str) -> KeptForm | None:
    """Return the form behind a line of `KeptForm.signed`; None for any other or an old one."""
    try:
        path, items, files, page = signing.loads(signed, salt=_SALT, max_age=_LONGEST_S)
    except (signing.BadSignature, ValueError):
        # a line of an earlier version holds less
        return None
    return KeptForm(
        path,
        tuple((str(name), str(value)) for name, value in items),
        tuple(LostFile(str(field), str(name)) for field, name in files),
        str(page),
    )


def came_from_here(request: HttpRequest) -> bool:
    """Return whether the browser says that the form stood on a page of this very site."""
    return request.headers.get("Origin") == f"{request.scheme}://{request.get_host()}"
