"""For whom an open job waits, by its next step."""

from enum import StrEnum

from jobs.core.next_step import Step, StepFacts, next_step
from shopdiag.people.core.roles import Role
from shopdiag.people.core.words import gettext_noop


class Party(StrEnum):
    """Whose move it is."""

    CUSTOMER = "customer"
    WRITER = "writer"
    DIAGNOSTICIAN = "diagnostician"
    MECHANIC = "mechanic"


PARTY_WORDS: dict[Party, str] = {
    Party.CUSTOMER: gettext_noop("customer"),
    Party.WRITER: gettext_noop("service writer"),
    Party.DIAGNOSTICIAN: gettext_noop("diagnostician"),
    Party.MECHANIC: gettext_noop("mechanic"),
}

_NOT_THE_DIAGNOSTICIAN: dict[Step, Party] = {
    Step.COMPLAINT: Party.WRITER,
    Step.TO_DELIVERY: Party.WRITER,
    Step.CALL: Party.CUSTOMER,
    Step.NEW_CONSENT: Party.CUSTOMER,
    Step.DELIVER: Party.CUSTOMER,
    Step.ACCEPT: Party.MECHANIC,
    Step.RECORD: Party.MECHANIC,
}


def party_of(step: Step) -> Party:
    """Return for whom a job waits at a step."""
    return _NOT_THE_DIAGNOSTICIAN.get(step, Party.DIAGNOSTICIAN)


def waits_for(facts: StepFacts) -> Party:
    """Return for whom an open job waits."""
    # whom the owner sees: every step is theirs too, so that none is passed over
    return party_of(next_step(facts, Role.OWNER).step)
