"""The components of the look as template tags; `/kit/` shows each one with its states.

Tags that wrap text have an end tag (`{% card %}…{% endcard %}`). Names with underscores
become attributes with dashes: `{% button hx_post=address %}Save{% endbutton %}`.
"""

from collections.abc import Collection, Iterable, Mapping
from datetime import datetime
from typing import Any
from uuid import uuid4

from django import template
from django.forms import BaseForm
from django.forms.utils import flatatt
from django.template import Context
from django.template.loader import render_to_string
from django.utils.safestring import SafeString
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from shopdiag.people.core.numerals import written
from shopdiag.templatetags.bank_bars import draw_banks
from shopdiag.templatetags.bars import draw, draw_lying, lies
from shopdiag.templatetags.small_bars import draw_small
from shopdiag.templatetags.unbroken import keep_whole
from traces.core.report import call_words

register = template.Library()

_SEVERITY_WORDS = {"stop": _("Stop"), "warn": _("Look out"), "note": _("Note")}
_CALL_KINDS = {"sound": "good", "watch": "watch", "suspect": "suspect", "high": "watch"}


def _render(name: str, **values: Any) -> SafeString:  # noqa: ANN401 - template values
    return render_to_string(f"components/{name}.html", values)


def _attributes(given: Mapping[str, Any]) -> SafeString:
    return flatatt(
        {
            name.rstrip("_").replace("_", "-"): value
            for name, value in given.items()
            if value not in (None, "", False)
        }
    )


register.filter("unbroken", keep_whole)


@register.filter
def fixed(value: float | None, digits: int) -> str:
    """Return a figure to so many decimals, rounded as drawings and texts round it.

    `floatformat` rounds a half up, so that one figure would read 223 here and 222 in a text.
    """
    if value is None:
        return ""
    shown = f"{value:.{digits}f}"
    return written(shown if float(shown) else shown.lstrip("-"))


@register.simple_block_tag
def button(
    content: str,
    kind: str = "plain",
    href: str = "",
    type: str = "submit",  # noqa: A002 - the attribute's own name
    **attributes: Any,  # noqa: ANN401
) -> SafeString:
    """Draw a button, or a link that looks like one when `href` is given.

    `kind` is plain, primary (one a screen), quiet or stop (takes something away).
    """
    return _render(
        "button",
        label=SafeString(content.strip()),
        kind=kind,
        href=href,
        type=type,
        attributes=_attributes(attributes),
    )


@register.simple_block_tag
def card(
    content: str,
    *,
    title: str = "",
    kind: str = "",
    id: str = "",  # noqa: A002 - the attribute's own name
    badge: str = "",
    badge_kind: str = "plain",
    level: int = 2,
) -> SafeString:
    """Draw a card; `kind` job has the punched edge, sunk is for what stands aside."""
    return _render(
        "card",
        content=content,
        title=title,
        kind=kind,
        id=id,
        badge=badge,
        badge_kind=badge_kind,
        level=level,
    )


@register.filter
def rounded(value: float | None, digits: int) -> str:
    """Return a figure to so many decimals at most, without noughts at its end."""
    if value is None:
        return ""
    shown = round(value, digits)
    return written(f"{shown or 0:.15g}")


@register.simple_block_tag
def page_head(content: str, title: str, kicker: str = "", lead: str = "") -> SafeString:
    """Draw the page's heading; the wrapped text is the row of things to do."""
    return _render(
        "page_head", actions=SafeString(content.strip()), title=title, kicker=kicker, lead=lead
    )


@register.simple_block_tag
def caution(content: str, title: str = "") -> SafeString:
    """Draw a block on what can hurt someone."""
    return _render("caution", content=content, title=title or gettext("Caution"))


@register.simple_block_tag
def empty(content: str, title: str) -> SafeString:
    """Say that there is nothing yet, and what to do."""
    return _render("empty", content=content, title=title)


@register.simple_block_tag
def table(
    content: str, caption: str, *, show_caption: bool = False, close: bool = False
) -> SafeString:
    """Draw a table from `<thead>` and `<tbody>`; give every `<td>` its `data-label`.

    On a phone each row becomes a slip with a line for each cell; with `close` its cells follow each
    other, with their labels where those of the class `plain` need none.
    """
    return _render(
        "table", content=content, caption=caption, show_caption=show_caption, close=close
    )


@register.simple_block_tag
def entry(
    content: str,
    when: datetime | None = None,
    who: str = "",
    kind: str = "",
) -> SafeString:
    """Draw one line of a timeline; `kind` is empty, stage or stop."""
    return _render("timeline_entry", content=content, when=when, who=who, kind=kind)


@register.simple_block_tag
def more(content: str, summary: str, open: bool = False) -> SafeString:  # noqa: A002
    """Fold away what is not always needed."""
    return _render("more", content=content, summary=summary, open=open)


@register.filter
def figure(value: float | None, digits: int) -> str:
    """Return a figure with so many digits that count, and none that say nothing."""
    return "" if value is None else written(f"{value:.{digits}g}")


@register.filter
def holds(form: BaseForm, names: str) -> bool:
    """Return whether a field has an error, or says otherwise than in a new form."""
    return any(
        bool(field.errors) or (field.value() or None) != (field.initial or None)
        for field in (form[name] for name in names.split())
    )


@register.simple_block_tag
def fold(
    content: str,
    title: str,
    line: str = "",
    id: str = "",  # noqa: A002 - the attribute's own name
    *,
    open: bool = False,  # noqa: A002
    on_paper: bool = False,
) -> SafeString:
    """Fold a part of a page away under its heading; a link to `id` opens it.

    Folds stand in a list (`folds`, `folds-two`) or side by side as tabs (`folds-tabs`). `line`
    says what one holds while it is closed, `on_paper` prints it whether it is open or not.
    """
    return _render(
        "fold", content=content, title=title, line=line, id=id, open=open, on_paper=on_paper
    )


@register.inclusion_tag("components/badge.html")
def badge(label: str, kind: str = "plain") -> dict[str, Any]:
    """Draw a word in a box: plain, good, watch, suspect or stop."""
    return {"label": label, "kind": kind}


@register.inclusion_tag("components/badge.html")
def call_badge(call: str) -> dict[str, Any]:
    """Draw an analysis's call (sound, high, watch, suspect) as a badge."""
    return {"label": call_words(call), "kind": _CALL_KINDS.get(call, "plain")}


@register.inclusion_tag("components/finding.html")
def finding(
    found: object = None,
    severity: str = "note",
    message: str = "",
    remedy: str = "",
    where: str = "",
    *,
    aid: Iterable[str] = (),
    lines: Iterable[str] = (),
    remedy_label: str = "",
    folded: bool = False,
) -> dict[str, Any]:
    """Draw a finding from an object or mapping with the published names, or from its parts.

    `aid` is what explains it, a sentence each, folded away until asked for. `lines` stand below
    the message. `remedy_label` leads the remedy where that is no instruction, such as a reason.
    `folded` shows what was seen alone; the rest unfolds.
    """
    if found is not None:
        severity = str(_of(found, "severity"))
        message = str(_of(found, "message"))
        remedy = str(_of(found, "remedy") or "")
        where = where or _where(_of(found, "channel"), _of(found, "from_s"), _of(found, "to_s"))
    return {
        "severity": severity,
        "word": _SEVERITY_WORDS.get(severity, severity),
        "message": message,
        "remedy": remedy,
        "remedy_label": remedy_label or gettext("What to do"),
        "where": where,
        "aid": " ".join(aid),
        "lines": list(lines),
        "folded": folded,
    }


def _of(item: object, name: str) -> Any:  # noqa: ANN401 - JSON value or attribute
    return item.get(name) if isinstance(item, Mapping) else getattr(item, name, None)


def _where(channel: str | None, from_s: float | None, to_s: float | None) -> str:
    parts = [gettext("channel %(channel)s") % {"channel": channel}] if channel else []
    if from_s is not None and to_s is not None:
        parts.append(
            gettext("%(from_s)s s to %(to_s)s s")
            % {
                "from_s": written(f"{from_s:.2f}"),
                "to_s": written(f"{to_s:.2f}"),
            }
        )
    elif from_s is not None:
        parts.append(gettext("from %(from_s)s s") % {"from_s": written(f"{from_s:.2f}")})
    return ", ".join(parts)


@register.inclusion_tag("components/stage_strip.html")
def stage_strip(
    stages: Iterable[tuple[str, str]], current: str, skipped: Collection[str] = ()
) -> dict[str, Any]:
    """Draw the job's stages, (value, label) in order, with the current one marked.

    Of those `skipped` nothing was done, although the job went past them.
    """
    rows = []
    state = "done"
    for number, (value, label) in enumerate(stages, start=1):
        here = str(value) == str(current)
        if here:
            state = "todo"
        shown = "current" if here else "skipped" if str(value) in skipped else state
        rows.append({"number": number, "label": label, "state": shown})
    return {"stages": rows}


@register.inclusion_tag("components/bars.html")
def bars(
    estimates: Iterable[object],
    suspect_below: float = 0.80,
    watch_below: float = 0.88,
    id: str = "bars",  # noqa: A002 - the attribute's own name
    title: str = "",
    *,
    short: bool = False,
) -> dict[str, Any]:
    """Draw one bar per cylinder, in firing order, with its 95 % interval and its call.

    `short` leaves out the table and what the drawing's own lines say.
    """
    rows = list(estimates)
    lying = lies(rows)
    place = draw_lying if lying else draw
    return {
        "drawing": place(rows, suspect_below=suspect_below, watch_below=watch_below),
        "lying": lying,
        "id": id,
        "title": title or gettext("Relative compression in firing order"),
        "suspect_below": suspect_below,
        "watch_below": watch_below,
        "short": short,
    }


@register.inclusion_tag("components/small_bars.html")
def small_bars(
    estimates: Iterable[object],
    id: str = "small-bars",  # noqa: A002 - the attribute's own name
) -> dict[str, Any]:
    """Draw one small bar per cylinder, in firing order, for a line beside which the words stand."""
    return {"drawing": draw_small(estimates), "id": id}


@register.inclusion_tag("components/bank_bars.html")
def bank_bars(view: Any, id: str = "bank-bars") -> dict[str, Any]:  # noqa: A002, ANN401 - by its attributes
    """Draw one bar per bank with its interval, and say how the banks differ."""
    return {"view": view, "drawing": draw_banks(view.rows), "id": id}


@register.inclusion_tag("components/form_errors.html")
def form_errors(
    form: BaseForm,
    title: str = "",
) -> dict[str, Any]:
    """List a form's errors at its top, each with a way to its field."""
    fields = [
        {"label": bound.label, "id": bound.id_for_label or bound.auto_id, "errors": bound.errors}
        for bound in form.visible_fields()
        if bound.errors
    ]
    hidden = [error for bound in form.hidden_fields() for error in bound.errors]
    title = title or gettext("Not saved yet. What you typed is still here.")
    return {"title": title, "general": [*form.non_field_errors(), *hidden], "fields": fields}


@register.inclusion_tag("components/crumbs.html")
def crumbs(*way: object) -> dict[str, Any]:
    """Draw the way back up from labels and addresses in turn; the page itself has none."""
    return {"items": list(zip(way[::2], way[1::2], strict=True))}


@register.simple_tag
def new_token() -> str:
    """Return a token by which what is sent with one form belongs together."""
    return str(uuid4())


@register.simple_tag(takes_context=True)
def current(context: Context, *names: str) -> SafeString:
    """Write `aria-current` when the page shown has one of these address names.

    A name that ends in a colon stands for all addresses of that app.
    """
    match = getattr(context.get("request"), "resolver_match", None)
    here = match.view_name if match else ""
    hit = any(here == n or (n.endswith(":") and here.startswith(n)) for n in names)
    return SafeString(' aria-current="page"' if hit else "")
