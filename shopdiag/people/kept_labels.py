"""What a kept form is called on its page: labels and choices instead of names and codes.

The page is asked for once more, as the reader would, and its form is read as a browser would.
"""

import copy
import logging
from collections.abc import Iterator
from dataclasses import dataclass, field
from html.parser import HTMLParser
from urllib.parse import urlsplit

from django.core.exceptions import PermissionDenied
from django.http import Http404, HttpRequest, HttpResponse, QueryDict
from django.template.response import TemplateResponse
from django.urls import Resolver404, resolve
from django.utils.datastructures import MultiValueDict
from django.utils.translation import gettext as _

from shopdiag.people.kept_forms import KeptForm

logger = logging.getLogger(__name__)

_VOID = frozenset({"input", "br", "img", "hr", "meta", "link", "source", "wbr"})
_NOT_READ = frozenset({"field-optional", "field-unit", "reading-unit", "field-help", "field-error"})
"""Classes of what stands within a label and is no part of it."""
_CHOSEN = frozenset({"checkbox", "radio"})


@dataclass(frozen=True, slots=True)
class TypedLine:
    """What was typed into one field, as the page words it."""

    label: str
    value: str


@dataclass(slots=True)
class _Field:
    """One field of a form on a page."""

    label: str = ""
    is_hidden: bool = False
    is_lone_box: bool = False
    options: dict[str, str] = field(default_factory=dict)
    hidden_values: set[str] = field(default_factory=set)


@dataclass(slots=True)
class _PageForm:
    action: str
    fields: dict[str, _Field] = field(default_factory=dict)


def typed_lines(request: HttpRequest, kept: KeptForm) -> tuple[TypedLine, ...]:
    """Return what a person reads of a kept form; names and codes where its page is gone."""
    fields = _fields_of(request, kept)
    values: dict[str, list[str]] = {}
    for name, value in kept.items:
        known = fields.get(name)
        if value.strip() and not (known.is_hidden if known else kept.is_own(name)):
            values.setdefault(name, []).append(value)
    return tuple(
        TypedLine(
            (known.label if known else "") or name.replace("_", " ").replace("-", " "),
            ", ".join(_shown(known, value) for value in some),
        )
        for name, some in values.items()
        for known in (fields.get(name),)
    )


def _shown(known: _Field | None, value: str) -> str:
    if known is None:
        return value
    return _("yes") if known.is_lone_box else known.options.get(value, "") or value


def _fields_of(request: HttpRequest, kept: KeptForm) -> dict[str, _Field]:
    """Return the fields of the form, by name, from the first page that shows it."""
    here = urlsplit(kept.path).path
    for address in dict.fromkeys(a for a in (kept.page, kept.path) if a):
        found = [
            form
            for form in _forms_on(_page(request, address), address)
            if urlsplit(form.action).path == here
        ]
        if found:
            return max(found, key=lambda form: _likeness(form, kept)).fields
    return {}


def _likeness(form: _PageForm, kept: KeptForm) -> int:
    """Return how many fields agree, and hidden ones by what they say: a page may ask twice."""
    return sum(
        (name in form.fields) + (name in form.fields and value in form.fields[name].hidden_values)
        for name, value in kept.items
    )


def _page(request: HttpRequest, address: str) -> str:
    """Return the page at an address as its reader sees it; empty where there is none."""
    parts = urlsplit(address)
    try:
        match = resolve(parts.path)
    except Resolver404:
        return ""
    asked = copy.copy(request)
    asked.method, asked.path, asked.path_info = "GET", parts.path, parts.path
    asked.GET, asked.POST = QueryDict(parts.query), QueryDict()
    asked.META = {**request.META, "REQUEST_METHOD": "GET", "QUERY_STRING": parts.query}
    asked.resolver_match = match
    # what waits to be said is said on the page that is shown, not on this one
    vars(asked).update(_messages=[], _files=MultiValueDict())
    try:
        answer: HttpResponse = match.func(asked, *match.args, **match.kwargs)
        if isinstance(answer, TemplateResponse):
            answer.render()
    except (Http404, PermissionDenied):
        return ""
    except Exception:  # what was typed is worth more than what it is called
        logger.exception("no labels from %s", parts.path)
        return ""
    is_page = answer.status_code == 200 and not answer.streaming
    is_html = answer.headers.get("Content-Type", "").startswith("text/html")
    return answer.content.decode() if is_page and is_html else ""


def _forms_on(page: str, address: str) -> list[_PageForm]:
    reader = _Reader(address)
    reader.feed(page)
    return list(reader.named())


class _Reader(HTMLParser):
    """Reads forms that post, with the label of each field and the words of each choice."""

    def __init__(self, address: str) -> None:
        super().__init__()
        self._address = address
        self._forms: list[_PageForm] = []
        self._open: _PageForm | None = None
        self._skipped: list[str] = []
        """Open tags since one that is no part of a label."""
        self._labels: list[list[str]] = []
        """Text of labels that are open, the innermost last."""
        self._label_for: list[tuple[str, list[tuple[str, str]]]] = []
        """Of each open label: whose it is, and which fields stand in it."""
        self._legend: list[str] | None = None
        self._groups: list[str] = []
        self._select = ""
        self._option: tuple[str, list[str]] | None = None
        self._by_id: dict[str, tuple[_Field, str, str]] = {}
        self._for_id: list[tuple[str, str]] = []

    def named(self) -> Iterator[_PageForm]:
        """Yield the forms once labels that name a field by its id are laid to it."""
        for of_id, text in self._for_id:
            if of_id in self._by_id:
                self._name(*self._by_id[of_id], text)
        yield from self._forms

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        given = {name: value or "" for name, value in attrs}
        if self._skipped:
            if tag not in _VOID:
                self._skipped.append(tag)
            return
        is_aside = _NOT_READ & set(given.get("class", "").split())
        if is_aside or given.get("aria-hidden") == "true":
            if tag not in _VOID:
                self._skipped.append(tag)
        elif tag == "form":
            posts = given.get("method", "get").lower() == "post"
            self._open = _PageForm(given.get("action") or self._address) if posts else None
            if self._open:
                self._forms.append(self._open)
        elif self._open is not None:
            self._in_a_form(self._open, tag, given)

    def _in_a_form(self, form: _PageForm, tag: str, given: dict[str, str]) -> None:
        if tag == "fieldset":
            self._groups.append("")
        elif tag == "legend":
            self._legend = []
        elif tag == "label":
            self._labels.append([])
            self._label_for.append((given.get("for", ""), []))
        elif tag == "option":
            self._close_option()
            self._option = (given.get("value", ""), [])
        elif tag in {"input", "select", "textarea"} and given.get("name"):
            self._field(form, tag, given)

    def _field(self, form: _PageForm, tag: str, given: dict[str, str]) -> None:
        name, kind = given["name"], given.get("type", "text") if tag == "input" else tag
        found = form.fields.setdefault(name, _Field())
        if kind == "hidden":
            found.is_hidden = not found.label
            found.hidden_values.add(given.get("value", ""))
            return
        found.is_hidden = False
        value = given.get("value", "on")
        if kind in _CHOSEN:
            found.options.setdefault(value, "")
            found.is_lone_box = kind == "checkbox" and len(found.options) == 1
            if self._groups and self._groups[-1]:
                found.label, found.is_lone_box = self._groups[-1], False
        if label := given.get("aria-label"):
            self._name(found, kind, value, label)
        if given.get("id"):
            self._by_id[given["id"]] = (found, kind, value)
        if self._label_for:
            self._label_for[-1][1].append((name, value))
            self._by_id[f" {name} {value}"] = (found, kind, value)
        if tag == "select":
            self._select = name

    def _name(self, found: _Field, kind: str, value: str, text: str) -> None:
        if kind in _CHOSEN:
            found.options[value] = text
            if found.is_lone_box:
                found.label = text
        else:
            found.label = found.label or text

    def handle_data(self, data: str) -> None:
        if self._skipped:
            return
        if self._option:
            self._option[1].append(data)
        elif self._legend is not None:
            self._legend.append(data)
        elif self._labels:
            self._labels[-1].append(data)

    def handle_endtag(self, tag: str) -> None:
        if self._skipped:
            while self._skipped.pop() != tag and self._skipped:
                pass
        elif tag == "form":
            self._open, self._labels, self._label_for, self._groups = None, [], [], []
        elif tag == "fieldset" and self._groups:
            self._groups.pop()
        elif tag == "legend" and self._legend is not None:
            if self._groups:
                self._groups[-1] = _line(self._legend)
            self._legend = None
        elif tag == "label" and self._labels:
            self._close_label()
        elif tag == "option":
            self._close_option()
        elif tag == "select":
            self._close_option()
            self._select = ""

    def _close_label(self) -> None:
        text = _line(self._labels.pop())
        of_id, within = self._label_for.pop()
        if of_id:
            self._for_id.append((of_id, text))
        for name, value in within:
            self._name(*self._by_id[f" {name} {value}"], text)

    def _close_option(self) -> None:
        if self._select and self._open is not None and self._option:
            value, said = self._option
            self._open.fields[self._select].options[value] = _line(said)
        self._option = None


def _line(text: list[str]) -> str:
    return " ".join("".join(text).split())
