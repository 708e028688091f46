"""What the pages of practice show; the truth only of exercises that were answered."""

from dataclasses import dataclass
from datetime import datetime

from django.db.models import Q, QuerySet
from django.utils.translation import gettext as _

from shopdiag.people.models import Member
from traces.core.findings import Finding
from traces.core.report import Estimate, Report, verdict_sentence
from traces.models import Work, WorkerBeat
from traces.practice.core.curve import Curve, CurveDrawing, draw
from traces.practice.core.levels import (
    ENGINES,
    FAULT_LABELS,
    LEVELS,
    REMEDY_LABELS,
    REMEDY_WHY,
    SYNC_WORDS,
    Fault,
    Level,
    Remedy,
    Sync,
    level_of,
)
from traces.practice.core.marking import Answer, Call, Score, Truth, letters, numbers_filled, score
from traces.practice.core.progress import Progress, Tried, progress
from traces.practice.models import Exercise, SetCase
from traces.selectors.captures import WorkState, work_state
from traces.selectors.clock import database_now

_LISTED = 20


def open_exercise(member: Member) -> Exercise | None:
    """Return the member's exercise that waits for an answer."""
    mine = Exercise.objects.of(member).filter(answered_at=None)
    return mine.exclude(state=Work.State.FAILED).first()


def member_progress(member: Member) -> Progress:
    """Return where a member stands."""
    return _progress(Exercise.objects.of(member))


def _progress(exercises: QuerySet[Exercise]) -> Progress:
    rows = exercises.answered().values_list("level", "points", "most_points")  # type: ignore[attr-defined]
    return progress(Tried(level, points == most) for level, points, most in rows)


@dataclass(frozen=True, slots=True)
class Home:
    """A person's own page of practice."""

    progress: Progress
    level: Level
    levels: int
    waiting: Exercise | None
    cases: tuple[SetCase, ...]
    done: tuple[Exercise, ...]


def home_of(member: Member) -> Home:
    """Return what a member practises and what is set for them."""
    found = member_progress(member)
    mine = Exercise.objects.of(member)
    return Home(
        progress=found,
        level=level_of(found.level),
        levels=len(LEVELS),
        waiting=open_exercise(member),
        cases=tuple(cases_for(member)),
        done=tuple(mine.answered().reverse()[:_LISTED]),
    )


def cases_for(member: Member) -> QuerySet[SetCase]:
    """Return the cases that a member has still to mark."""
    begun = Exercise.objects.of(member).exclude(state=Work.State.FAILED)
    return (
        SetCase.objects.seen_by(member)
        .filter(Q(set_for=None) | Q(set_for=member), withdrawn_at=None)
        .exclude(pk__in=begun.exclude(set_case=None).values("set_case"))
        .select_related("created_by__user")
    )


def cases_set(member: Member) -> QuerySet[SetCase]:
    """Return the shop's cases that are not withdrawn, newest first."""
    found = SetCase.objects.seen_by(member).filter(withdrawn_at=None)
    return found.select_related("set_for__user", "created_by__user")


@dataclass(frozen=True, slots=True)
class Standing:
    """One person in the instructor's table."""

    member: Member
    progress: Progress
    level: Level
    last: datetime | None
    open_cases: int


def standings(member: Member) -> tuple[Standing, ...]:
    """Return where everybody who works in the member's shop stands."""
    people = Member.objects.filter(shop=member.shop_id, active=True).select_related("user")
    found = []
    for person in people.order_by("user__name", "pk"):
        mine = Exercise.objects.of(person)
        last = mine.answered().last()
        stands = _progress(mine)
        found.append(
            Standing(
                person,
                stands,
                level_of(stands.level),
                last.answered_at if last else None,
                cases_for(person).count(),
            )
        )
    return tuple(found)


@dataclass(frozen=True, slots=True)
class HumpRow:
    """One hump, as it was marked and as it is."""

    letter: str
    true_number: int
    number: int | None
    is_weak: bool
    marked_weak: bool
    relative: float
    tool: Estimate | None


@dataclass(frozen=True, slots=True)
class Solution:
    """What is shown once an exercise was answered."""

    truth: Truth
    answer: Answer
    score: Score
    rows: tuple[HumpRow, ...]
    truth_words: str
    why: str
    remedy_words: str
    your_remedy: str
    report: Report
    sentence: str
    estimates: tuple[Estimate, ...]
    reasons: tuple[Finding, ...]
    hints: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class ExercisePage:
    """An exercise's page; `solution` only after the answer."""

    exercise: Exercise
    state: WorkState
    engine: str = ""
    order: str = ""
    banks: tuple[str, ...] = ()
    sync: str = ""
    letters: tuple[str, ...] = ()
    part: CurveDrawing | None = None
    whole: CurveDrawing | None = None
    cycles: int = 1
    solution: Solution | None = None

    @property
    def is_drawn(self) -> bool:
        """Whether there is a capture to mark."""
        return self.part is not None


def exercise_page(exercise: Exercise) -> ExercisePage:
    """Return what a page shows of an exercise."""
    state = work_state(
        exercise,
        WorkerBeat.objects.order_by("-seen_at").first(),
        database_now(),
        doing=_("Drawing and analysing the capture"),
    )
    if exercise.state != Work.State.DONE or exercise.curve is None:
        return ExercisePage(exercise, state)
    shown = exercise.shown
    curve = Curve.from_json(exercise.curve)
    count = len(shown["order"])
    names = letters(count)
    return ExercisePage(
        exercise=exercise,
        state=state,
        engine=_(ENGINES[shown["engine"]]),
        order="-".join(str(n) for n in shown["order"]),
        banks=tuple(", ".join(str(n) for n in bank) for bank in shown["banks"]),
        sync=_(SYNC_WORDS[Sync(shown["sync"])]).format(cylinder=shown["sync_cylinder"]),
        letters=names,
        part=draw(curve.part, height=200, humps=curve.humps, names=names),
        whole=draw(curve.whole, height=90, shown=curve.part),
        cycles=2 if count <= 4 else 1,
        solution=_solution(exercise) if exercise.is_answered else None,
    )


def _solution(exercise: Exercise) -> Solution | None:
    if exercise.truth is None or exercise.answer is None or exercise.result is None:
        return None
    truth = Truth.from_json(exercise.truth)
    answer = Answer.from_json(exercise.answer)
    report = Report.from_json(exercise.result)
    found = score(truth, answer)
    filled = numbers_filled(answer.numbers, truth.cylinders) or answer.numbers
    by_number = {e.cylinder: e for e in report.estimates if report.cylinders_known}
    rows = tuple(
        HumpRow(
            letter=letter,
            true_number=number,
            number=filled[place] if place < len(filled) else None,
            is_weak=number in truth.weak,
            marked_weak=place in answer.weak,
            relative=truth.relative[number - 1],
            tool=by_number.get(number),
        )
        for place, (letter, number) in enumerate(
            zip(letters(len(truth.cylinders)), truth.cylinders, strict=True)
        )
    )
    fault = Fault(truth.fault)
    return Solution(
        truth=truth,
        answer=answer,
        score=found,
        rows=rows if truth.call is not Call.UNCLEAR else (),
        truth_words=_(FAULT_LABELS[fault]),
        why=_(REMEDY_WHY[fault]) if fault in REMEDY_WHY else "",
        remedy_words=_(REMEDY_LABELS[Remedy(truth.remedy)]) if truth.remedy else "",
        your_remedy=_(REMEDY_LABELS[Remedy(answer.remedy)]) if answer.remedy else "",
        report=report,
        sentence=verdict_sentence(report),
        estimates=report.estimates,
        reasons=tuple(f for f in report.findings if f.code != "relative-only"),
        hints=tuple(_hints(truth, answer, found)),
    )


def _hints(truth: Truth, answer: Answer, found: Score) -> list[str]:
    """Return what to look at after what was wrong."""
    hints = []
    if not found.call:
        hints.append(
            {
                Call.WEAK: _(
                    "Lay the humps of one cycle beside each other, then the same hump in other "
                    "cycles: one that is low every time is weak."
                ),
                Call.EVEN: _(
                    "No hump is low in every cycle. Humps of good cylinders differ a little; only "
                    "what repeats counts."
                ),
                Call.UNCLEAR: _(
                    "Look at the whole crank before the humps: its length, its level, flat tops, "
                    "and whether it is a starter's current at all."
                ),
            }[truth.call]
        )
    if found.humps is False:
        hints.append(
            _(
                "A weak cylinder pushes the crank less, so the hump after it may stand higher. "
                "Look for the hump that is missing, not for its neighbour."
            )
        )
    if found.numbers is False:
        hints.append(_numbers_hint(truth, answer))
    if found.remedy is False and found.call:
        hints.append(_("The reason decides what has to change before the next recording."))
    return hints


def _numbers_hint(truth: Truth, answer: Answer) -> str:
    if truth.sync is Sync.PAIR:
        return _(
            "A coil that fires every 360° marks two cylinders alike, so the numbers stay open "
            "between them. Find a sync that comes once in 720°."
        )
    if truth.sync is Sync.UNKNOWN:
        return _(
            "Nobody knows at which crank angle this injector opens, so its event names no hump. "
            "Use ignition, or measure the angle once."
        )
    if answer.numbers_open:
        return _(
            "This sync comes once in 720° with the ignition of one cylinder, so the numbers are "
            "settled."
        )
    return _(
        "Ignition comes shortly before top dead centre: the hump at the sync event is the sync "
        "cylinder's. The others follow in firing order."
    )
