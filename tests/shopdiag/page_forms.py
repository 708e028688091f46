"""The forms that stand on a page, with what a browser would send of each."""

from collections.abc import Iterator
from dataclasses import dataclass, field
from html.parser import HTMLParser
from typing import Any

from django.urls import Resolver404, resolve

_TEXTS = {"text", "tel", "search", "email"}
_BUTTONS = {"submit", "button", "reset", "image"}


@dataclass
class PageForm:
    """One form that posts."""

    action: str
    sent: dict[str, list[str]] = field(default_factory=dict)
    """Values as they stand on the page."""
    names: set[str] = field(default_factory=set)
    """Every field's name, those that would send nothing included."""
    is_multipart: bool = False
    cut_by_browser: set[str] = field(default_factory=set)
    """Names of fields whose text a browser cuts without a word."""
    refused: set[str] = field(default_factory=set)
    """Names of fields that the page marks as wrong."""
    boxes: dict[str, str] = field(default_factory=dict)
    """What a box sends once it is ticked."""
    texts: list[str] = field(default_factory=list)
    """Names of the fields that take any text."""

    @property
    def view_name(self) -> str:
        """Return the name of the address that it posts to."""
        try:
            return resolve(self.action.partition("?")[0]).view_name
        except Resolver404:
            return ""


class _Reader(HTMLParser):
    def __init__(self, address: str) -> None:
        super().__init__()
        self.forms: list[PageForm] = []
        self._address = address
        self._form: PageForm | None = None
        self._area: str | None = None
        self._select: str | None = None
        self._first_option: str | None = None
        self._chosen = False
        self._text = ""

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        given = {name: value or "" for name, value in attrs}
        if tag == "form":
            posts = given.get("method", "get").lower() == "post"
            multipart = given.get("enctype") == "multipart/form-data"
            address = given.get("action") or self._address
            self._form = PageForm(address, is_multipart=multipart) if posts else None
        elif self._form is None or "disabled" in given:
            return
        elif tag == "option" and self._select:
            self._option(self._form, self._select, given)
        elif tag in {"input", "textarea", "select"} and given.get("name"):
            self._field(self._form, tag, given)

    def _option(self, form: PageForm, name: str, given: dict[str, str]) -> None:
        if self._first_option is None:
            self._first_option = given.get("value", "")
        if "selected" in given:
            self._chosen = True
            form.sent.setdefault(name, []).append(given.get("value", ""))

    def _field(self, form: PageForm, tag: str, given: dict[str, str]) -> None:
        name, kind = given["name"], given.get("type", "text")
        form.names.add(name)
        if "maxlength" in given:
            form.cut_by_browser.add(name)
        if given.get("aria-invalid") == "true":
            form.refused.add(name)
        if tag == "textarea":
            form.texts.append(name)
            self._area, self._text = name, ""
        elif tag == "select":
            self._select, self._first_option, self._chosen = name, None, False
        else:
            if kind in _TEXTS:
                form.texts.append(name)
            if kind == "checkbox":
                form.boxes[name] = given.get("value", "on")
            ticked = kind not in {"checkbox", "radio"} or "checked" in given
            if ticked and kind not in _BUTTONS | {"file"}:
                form.sent.setdefault(name, []).append(given.get("value", ""))

    def handle_data(self, data: str) -> None:
        if self._area:
            self._text += data

    def handle_endtag(self, tag: str) -> None:
        if tag == "form" and self._form:
            self.forms.append(self._form)
            self._form = None
        elif tag == "textarea" and self._area and self._form:
            # the first line break of a text area is not part of its text
            self._form.sent[self._area] = [self._text.removeprefix("\n")]
            self._area = None
        elif tag == "select" and self._select and self._form:
            if not self._chosen and self._first_option is not None:
                self._form.sent[self._select] = [self._first_option]
            self._select = None


def forms_on(page: Any, address: str) -> list[PageForm]:
    """Return the forms of a page that post, in order."""
    reader = _Reader(address)
    reader.feed(page.content.decode())
    return reader.forms


def forms_to(page: Any, address: str, view_name: str) -> Iterator[PageForm]:
    """Yield the forms of a page that post to a view."""
    return (form for form in forms_on(page, address) if form.view_name == view_name)


def filled(form: PageForm, typed: dict[str, Any]) -> dict[str, Any]:
    """Return what a browser sends of a form once somebody typed into it.

    None unticks a box, "on" ticks it and sends its own value.
    """
    sent: dict[str, Any] = dict(form.sent)
    sent.pop("csrfmiddlewaretoken", None)
    for name, value in typed.items():
        if value is None:
            sent.pop(name, None)
        else:
            sent[name] = form.boxes.get(name, value) if value == "on" else value
    return sent
