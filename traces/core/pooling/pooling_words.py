"""Several captures in plain words: how well they repeat, and where and why they may not."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from types import MappingProxyType

from shopdiag.people.core.words import gettext as _, say
from traces.core.findings import cylinders_words, listed, numbered
from traces.core.pooling.pooling import REPEATABILITY_FACTOR, PooledPlace, Together

_ORDINALS = (
    *("first", "second", "third", "fourth", "fifth"),
    *("sixth", "seventh", "eighth", "ninth", "tenth"),
)
SHRINKS_LITTLE = say(
    "More captures show that a figure repeats; they narrow it little, "
    "because what the method gets wrong about an engine comes back in every "
    "capture of it."
)


@dataclass(frozen=True, slots=True)
class CaptureConditions:
    """How a capture was made, in words; empty where it was not noted."""

    temperature: str = ""
    throttle: str = ""

    @property
    def words(self) -> str:
        """Both as far as they are noted: "cold, throttle closed"."""
        parts = [
            self.temperature,
            self.throttle and _("throttle {throttle}").format(throttle=self.throttle),
        ]
        return ", ".join(p.lower() for p in parts if p)


@dataclass(frozen=True, slots=True)
class PoolingText:
    """A group of captures in sentences.

    Parameters
    ----------
    headline
        Whether they agree.
    verdict
        What they say together.
    disagreements
        Each with what it may come from.
    asides
        Captures whose numbers are open, conditions, limits.
    """

    headline: str
    verdict: str
    disagreements: tuple[str, ...]
    asides: tuple[str, ...]


def ordinal(at: int) -> str:
    """Return "first" for 0, and so on."""
    if at < len(_ORDINALS):
        return _ORDINALS[at]
    return str(numbered(at + 1))


def said(
    together: Together,
    order_of: Sequence[int],
    conditions: Mapping[int, CaptureConditions],
    titles: Mapping[int, str] = MappingProxyType({}),
) -> PoolingText:
    """Put pooled captures into words.

    Parameters
    ----------
    together
        From `pool`.
    order_of
        Keys of all captures in the order in which the page counts them.
    conditions
        By key.
    titles
        What people call the captures, by key; shown where one does not fit the others.
    """
    name = {key: ordinal(i) for i, key in enumerate(order_of)}
    full_name = {
        key: _("{word} capture ({titles})").format(word=word, titles=titles[key])
        if key in titles
        else _("{word} capture").format(word=word)
        for key, word in name.items()
    }
    disagreements = [
        *(_turned(name, *turn) for turn in together.turned_by),
        *(_differs(p, together, name, conditions) for p in together.differing),
        *(_contradicts(full_name[a.key]) for a in together.aligned if a.role == "contradicts"),
    ]
    return PoolingText(
        headline=_headline(together),
        verdict=_contradiction(together, name, full_name) or _verdict(together),
        disagreements=tuple(disagreements),
        asides=tuple(_asides(together, name, conditions)),
    )


def _headline(together: Together) -> str:
    count = len(together.keys)
    if not together.agrees:
        return _("{count} captures, and they do not agree in everything.").format(
            count=len(together.aligned)
        )
    if count < 2:
        others = len(together.aligned) - count
        rest = (
            _("the other is") if others == 1 else _("the other {others} are").format(others=others)
        )
        if together.cylinders_known:
            return _("One capture names the cylinders; {rest} in keeping with it.").format(
                rest=rest
            )
        return _("No capture names the cylinders; nothing in them contradicts.")
    sd = 100 * together.repeat_sd
    apart = REPEATABILITY_FACTOR * sd
    return _(
        "{count} captures agree: figures repeat with a standard deviation of "
        "{sd:.1f} points, so two single captures differ by less than {apart:.1f} "
        "points in 95 of 100."
    ).format(count=count, sd=sd, apart=apart)


def _contradiction(
    together: Together, name: Mapping[int, str], full_name: Mapping[int, str]
) -> str:
    """Return the verdict where not all captures can be of this engine in one state; '' else.

    What the pooled ones say by themselves would pass over the other.
    """
    against = [full_name[a.key] for a in together.aligned if a.role == "contradicts"]
    if against:
        do = "does" if len(against) == 1 else "do"
        return _(
            "The captures contradict each other: the {listed} {do} not fit the others."
        ).format(listed=listed(against, "and"), do=do)
    if together.turned_by:
        one, other, _ = together.turned_by[0]
        return _(
            "The captures contradict each other: the sync was on another cylinder in "
            "the {name} or the {name_2}."
        ).format(name=name[one], name_2=name[other])
    return ""


def _verdict(together: Together) -> str:
    sets = [c for c in together.candidates if c]
    if not sets:
        more = _(" besides what comes and goes") if together.differing else ""
        return _("Together: no weak cylinder{more}.").format(more=more)
    are = "is" if len(sets[0]) == 1 else "are"
    if len(sets) == 1:
        return _("Together: {sets} {are} low.").format(sets=cylinders_words(sets[0]), are=are)
    shown = listed([cylinders_words(c) for c in sets], "or")
    return _("Together: {shown} {are} low; no capture's sync settles which.").format(
        shown=shown, are=are
    )


def _differs(
    place: PooledPlace,
    together: Together,
    name: Mapping[int, str],
    conditions: Mapping[int, CaptureConditions],
) -> str:
    parts = []
    for key, figure in zip(together.keys, place.figures, strict=True):
        how = conditions[key].words
        parts.append(
            _("{figure:.0f} % in the {name}").format(figure=100 * figure, name=name[key])
            + (f" ({how})" if how else "")
        )
    return _(
        "{capitalize}: {list}. It comes and goes, or the conditions differ: {what_differs}."
    ).format(
        capitalize=_whose(place).capitalize(),
        list=", ".join(parts),
        what_differs=_what_differs(together, conditions),
    )


def _whose(place: PooledPlace) -> str:
    if place.cylinder is None:
        return _("the {place} in firing sequence").format(place=numbered(place.place))
    return _("cylinder {cylinder}").format(cylinder=place.cylinder)


def _what_differs(together: Together, conditions: Mapping[int, CaptureConditions]) -> str:
    found = []
    for what, values in (
        ("temperature", [conditions[k].temperature for k in together.keys]),
        ("throttle", [conditions[k].throttle for k in together.keys]),
    ):
        noted = list(dict.fromkeys(v.lower() for v in values if v))
        if len(noted) > 1:
            found.append(f"{what} {' and '.join(noted)}")
        elif len(noted) < 1 or not all(values):
            found.append(_("{what} was not noted for all of them").format(what=what))
    return "; ".join(found) or _("nothing that was noted does")


def _turned(name: Mapping[int, str], one: int, other: int, firings: int) -> str:
    step = (
        _("one firing")
        if abs(firings) == 1
        else _("{firings} firings").format(firings=abs(firings))
    )
    way = "later" if firings > 0 else "earlier"
    return _(
        "The {name} capture has the figures of the {name_2}, but {step} {way} in "
        "the firing order: the sync was on another cylinder in one of the two. "
        "Verify the sync before any cylinder is named."
    ).format(name=name[other], name_2=name[one], step=step, way=way)


def _contradicts(name: str) -> str:
    return _(
        "The {name}, which does not settle the numbers, fits the others under "
        "none of its labellings: the engine changed between them, or one was set "
        "up wrongly."
    ).format(name=name)


def _asides(
    together: Together, name: Mapping[int, str], conditions: Mapping[int, CaptureConditions]
) -> list[str]:
    found = []
    for aligned in together.aligned:
        if aligned.role == "turned":
            found.append(
                _(
                    "The {name} capture has no sync that names cylinders; its figures lie "
                    "over the others in one way only, and it is pooled that way."
                ).format(name=name[aligned.key])
            )
        elif aligned.role == "fits":
            found.append(
                _(
                    "The {name} capture is in keeping with the others, but in more ways than "
                    "one, so it is not pooled."
                ).format(name=name[aligned.key])
            )
    differing = _what_differs(together, conditions)
    if together.agrees and " and " in differing:
        found.append(
            _("They agree although conditions differ: {differing}.").format(differing=differing)
        )
    if len(together.keys) > 1:
        found.append(SHRINKS_LITTLE)
    return found
