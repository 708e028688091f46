"""Several captures in plain words: how well they repeat, and where and why they may not."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from types import MappingProxyType

from shopdiag.people.core.words import Text, ngettext, say
from shopdiag.people.core.words import gettext as _
from traces.core.findings import (
    cylinders_words,
    joined,
    listed,
    numbered,
    place_letter,
    place_words,
)
from traces.core.pooling.pooling import REPEATABILITY_FACTOR, PooledPlace, Together

_ORDINALS = (
    *(say("first"), say("second"), say("third"), say("fourth"), say("fifth")),
    *(say("sixth"), say("seventh"), say("eighth"), say("ninth"), say("tenth")),
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
            self.throttle and _("throttle {how}").format(how=self.throttle),
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
        return str(_ORDINALS[at])
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
        key: _("{nth} capture ({title})").format(nth=word, title=titles[key])
        if key in titles
        else _("{nth} capture").format(nth=word)
        for key, word in name.items()
    }
    disagreements = [
        *(_turned(name, *turn) for turn in together.turned_by),
        *(_differs(p, together, name, conditions) for p in together.differing),
        *(_contradicts(full_name[a.key]) for a in together.aligned if a.role == "contradicts"),
    ]
    return PoolingText(
        headline=_headline(together),
        verdict=_contradiction(together, name, full_name) or _with_high(together),
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
        if not together.cylinders_known:
            return _("No capture names the cylinders; nothing in them contradicts.")
        others = len(together.aligned) - count
        return ngettext(
            "One capture names the cylinders; the other is in keeping with it.",
            "One capture names the cylinders; the other {count} are in keeping with it.",
            others,
        ).format(count=others)
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
        return ngettext(
            "The captures contradict each other: the {captures} does not fit the others.",
            "The captures contradict each other: the {captures} do not fit the others.",
            len(against),
        ).format(captures=listed(against))
    if together.turned_by:
        one, other, _by = together.turned_by[0]
        return _(
            "The captures contradict each other: the sync was on another cylinder in the {one} or "
            "the {other}."
        ).format(one=name[one], other=name[other])
    return ""


def _with_high(together: Together) -> str:
    verdict, high = _verdict(together), together.high
    if not high:
        return verdict
    known = sorted(p.cylinder for p in high if p.cylinder is not None)
    which = cylinders_words(known) if len(known) == len(high) else say("one cylinder or more")
    beside = ngettext("{verdict} But {high} is high.", "{verdict} But {high} are high.", len(high))
    return beside.format(verdict=verdict, high=which)


def _verdict(together: Together) -> str:
    sets = [c for c in together.candidates if c]
    if not sets:
        if together.differing:
            return _("Together: no weak cylinder besides what comes and goes.")
        return _("Together: no weak cylinder.")
    if len(sets) == 1:
        return ngettext(
            "Together: {cylinders} is low.", "Together: {cylinders} are low.", len(sets[0])
        ).format(cylinders=cylinders_words(sets[0]))
    return ngettext(
        "Together: {either} is low; no capture's sync settles which.",
        "Together: {either} are low; no capture's sync settles which.",
        len(sets[0]),
    ).format(either=listed([cylinders_words(c) for c in sets], "or"))


def _differs(
    place: PooledPlace,
    together: Together,
    name: Mapping[int, str],
    conditions: Mapping[int, CaptureConditions],
) -> str:
    parts = []
    for key, figure in zip(together.keys, place.figures, strict=True):
        how = conditions[key].words
        part = say("{share} % in the {nth}", share=f"{100 * figure:.0f}", nth=name[key])
        parts.append(say("{figure} ({how})", figure=part, how=how) if how else part)
    return _(
        "{cylinder}: {figures}. It comes and goes, or the conditions differ: {differences}."
    ).format(
        cylinder=_whose(place),
        figures=joined(parts),
        differences=_what_differs(together, conditions),
    )


def _whose(place: PooledPlace) -> Text:
    if place.cylinder is None:
        return say("Place {place} in firing order", place=place_letter(place.place))
    return place_words(place.cylinder, place.place, first=True)


def _what_differs(together: Together, conditions: Mapping[int, CaptureConditions]) -> str:
    found = []
    for noted, how, missing in (
        (
            [conditions[k].temperature for k in together.keys],
            _("temperature {each}"),
            _("temperature was not noted for all of them"),
        ),
        (
            [conditions[k].throttle for k in together.keys],
            _("throttle {each}"),
            _("throttle was not noted for all of them"),
        ),
    ):
        different = _different(noted)
        if len(different) > 1:
            found.append(how.format(each=listed(different)))
        elif not all(noted):
            found.append(missing)
    return "; ".join(found) or _("nothing that was noted does")


def _different(noted: Sequence[str]) -> list[str]:
    return list(dict.fromkeys(words.lower() for words in noted if words))


def _are_apart(together: Together, conditions: Mapping[int, CaptureConditions]) -> bool:
    noted = [conditions[key] for key in together.keys]
    return any(
        len(_different(words)) > 1
        for words in ([c.temperature for c in noted], [c.throttle for c in noted])
    )


def _turned(name: Mapping[int, str], one: int, other: int, firings: int) -> str:
    by = (
        ngettext("one firing later", "{count} firings later", firings)
        if firings > 0
        else ngettext("one firing earlier", "{count} firings earlier", -firings)
    ).format(count=abs(firings))
    return _(
        "The {other} capture has the figures of the {one}, but {by} in the firing order: the sync "
        "was on another cylinder in one of the two. Verify the sync before any cylinder is named."
    ).format(other=name[other], one=name[one], by=by)


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
    if together.agrees and _are_apart(together, conditions):
        found.append(
            _("They agree although conditions differ: {differing}.").format(differing=differing)
        )
    if len(together.keys) > 1:
        found.append(str(SHRINKS_LITTLE))
    return found
