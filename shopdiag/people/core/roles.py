"""Who does what in a shop: four roles and the actions each one's work needs."""

from enum import StrEnum


class Role(StrEnum):
    """What a person is in one shop; the same person may be another in the next."""

    DIAGNOSTICIAN = "diagnostician"
    MECHANIC = "mechanic"
    WRITER = "writer"
    OWNER = "owner"


class Action(StrEnum):
    """Something a page or an API call does, as far as permission goes."""

    SEE_WORK = "see_work"  # visits, captures and work orders, without the customer's contact
    SEE_CONTACT = "see_contact"  # the customer's name, phone and mail
    SEARCH = "search"  # find visits of the past
    TAKE_IN = "take_in"  # customers, vehicles, visits, complaints
    TRIAGE = "triage"  # cranking by ear, codes, freeze frames, counts
    CAPTURE = "capture"  # upload captures, set them up, run analyses
    JUDGE = "judge"  # accept or overrule a verdict, decide the cause
    ORDER_WORK = "order_work"  # make and withdraw work orders
    DO_WORK = "do_work"  # accept a work order, record findings, complete it
    VERIFY = "verify"  # say that the repair holds
    HAND_BACK = "hand_back"  # close the visit towards the customer
    SEE_WEEK = "see_week"  # who waits for whom, jobs a week, how verdicts fared
    SEE_LEARNING = "see_learning"  # how the analysis' calls fared here, causes by engine
    ADD_NOTE = "add_note"  # notes and photos
    PRACTISE = "practise"  # mark simulated captures
    SET_PRACTICE = "set_practice"  # set cases for others, see how they fare
    KEEP_ENGINES = "keep_engines"  # the shop's own engines
    KEEP_SHOP = "keep_shop"  # members, roles, settings


_EVERYONE = frozenset({Action.SEE_WORK, Action.ADD_NOTE, Action.PRACTISE})
_DIAGNOSTICIAN = _EVERYONE | {
    Action.SEE_CONTACT,
    Action.SEARCH,
    Action.TAKE_IN,
    Action.TRIAGE,
    Action.CAPTURE,
    Action.JUDGE,
    Action.ORDER_WORK,
    Action.DO_WORK,
    Action.VERIFY,
    Action.HAND_BACK,
    Action.KEEP_ENGINES,
    Action.SET_PRACTICE,
    Action.SEE_LEARNING,
}

ALLOWED: dict[Role, frozenset[Action]] = {
    Role.DIAGNOSTICIAN: _DIAGNOSTICIAN,
    Role.MECHANIC: _EVERYONE | {Action.DO_WORK},
    Role.WRITER: _EVERYONE
    | {
        Action.SEE_CONTACT,
        Action.SEARCH,
        Action.TAKE_IN,
        Action.HAND_BACK,
        Action.SEE_WEEK,
    },
    Role.OWNER: frozenset(Action),
}


def may(role: str, action: Action) -> bool:
    """Return whether someone in `role` does `action`."""
    return action in ALLOWED[Role(role)]
