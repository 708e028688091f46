"""A shop with something real behind every address."""

from dataclasses import dataclass
from functools import partial
from io import BytesIO
from uuid import UUID

from django.core.files.base import ContentFile
from django.urls import NoReverseMatch, reverse
from PIL import Image

from engines.models import Engine
from jobs.models import CodePaste, Photo, VisitCapture
from jobs.services.notes import photo_add
from shopdiag.people.invitations import invitation_create
from shopdiag.people.models import ApiToken, Invitation
from shopdiag.people.services import token_create
from tests.api.conftest import World, furnish_job
from tests.conftest import Cast, make_cast
from tests.jobs.conftest import make_four, visit_taken_in
from tests.shopdiag.walking import all_addresses, arguments_of
from tests.traces.conftest import analysed, capture_read
from tests.traces.practice.kept_exercise import exercise_drawn
from traces.models import Clamp, KnownGood, PinnedNote, Run, Upload
from traces.practice.models import Exercise, SetCase
from traces.practice.services import case_set
from traces.services import known_good_keep, note_pin
from traces.services.clamps import clamp_add


@dataclass(frozen=True)
class Furnished:
    """One shop's rows, by what addresses call them."""

    cast: Cast
    world: World
    run: Run
    photo: Photo
    token: ApiToken
    engine: Engine
    upload: Upload
    note: PinnedNote
    known_good: KnownGood
    exercise: Exercise
    invitation: Invitation
    clamp: Clamp
    key: str
    case: SetCase

    def number(self, name: str, argument: str) -> int | str | UUID:
        """Return the number that stands at `argument` in the address called `name`."""
        space, _, page = name.partition(":")
        world = self.world
        by_argument: dict[str, int | str | UUID] = {
            "visit_id": world.visit.pk,
            "vehicle_id": world.visit.vehicle_id,
            "code_id": world.code.pk,
            "code": world.code.pk,
            "photo_id": self.photo.pk,
            "capture_id": self.run.capture_id,
            "run_pk": self.run.pk,
            "note_pk": self.note.pk,
            "order_id": world.order.pk,
            "token": self.upload.pk,
            "entry_pk": self.known_good.pk,
            "key": self.key,
            "clamp_pk": self.clamp.pk,
            "case_pk": self.case.pk,
            "engine_id": self.engine.pk,
        }
        if argument == "paste_id":
            by_argument[argument] = CodePaste.objects.get(visit=world.visit).pk
        if argument in by_argument:
            return by_argument[argument]
        if space == "api":
            orders = {"work-order", "accept", "findings", "complete", "withdraw"}
            if page in orders:
                return world.order.pk
            if page in {"engine-access", "engine-limits"}:
                return self.engine.pk
            if page == "run":
                return self.run.pk
            captures = {"capture", "read-again", "correction", "capture-runs"}
            return self.run.capture_id if page in captures else world.visit.pk
        of_people = next(
            (row.pk for word, row in self._rows_of_people() if word in page), self.cast.mechanic.pk
        )
        return {
            "traces": self.run.capture_id,
            "engines": self.engine.pk,
            "people": of_people,
            "practice": self.exercise.pk,
        }[space]

    def _rows_of_people(self) -> tuple[tuple[str, ApiToken | Invitation], ...]:
        return (("token", self.token), ("invitation", self.invitation))

    def addresses(self) -> dict[str, str]:
        """Return each address of the service by its name, with numbers of this shop."""
        found = {}
        for name, where, _ in all_addresses():
            numbers = {argument: self.number(name, argument) for argument, _ in arguments_of(where)}
            try:
                found[name] = reverse(name, kwargs=numbers)
            except NoReverseMatch:
                # What answers where nothing is has no address of its own.
                found[name] = "/api/nowhere/"
        return found


def picture() -> ContentFile:
    """Return a small photo as a camera would send it."""
    out = BytesIO()
    Image.new("RGB", (64, 48), "#884422").save(out, "JPEG")
    return ContentFile(out.getvalue(), "IMG_0001.JPG")


def furnish(cast: Cast, world: World, run: Run, engine: Engine) -> Furnished:
    """Add a finished run, a photo and a token to a job that has everything else."""
    VisitCapture.objects.create(visit=world.visit, capture=run.capture)
    photo = photo_add(visit=world.visit, file=picture(), member=cast.diagnostician)
    token, _ = token_create(member=cast.mechanic, label="phone")
    upload = Upload.objects.create(
        shop=cast.shop, created_by=cast.diagnostician, name="long.csv", size_bytes=2_000_000_000
    )
    note = note_pin(
        member=cast.diagnostician, capture=run.capture, at_s=1.25, text="knocks from here on"
    )
    kept = known_good_keep(
        member=cast.diagnostician, run=run, note="uneven by design", although_uneven=True
    )
    exercise = exercise_drawn(cast.owner)
    invitation, key = invitation_create(member=cast.owner, label="Nico New", role="mechanic")
    case = case_set(member=cast.diagnostician, level=2, engine="I4", fault="mild")
    return Furnished(
        cast=cast,
        world=world,
        run=run,
        photo=photo,
        token=token,
        engine=engine,
        upload=upload,
        note=note,
        known_good=kept,
        exercise=exercise,
        invitation=invitation,
        key=key,
        clamp=clamp_add(member=cast.owner, name="Blue clamp", mv_per_a=10.0),
        case=case,
    )


def make_furnished() -> Furnished:
    """Make the cast, and in its first shop a job that has everything, a finished run included."""
    cast = make_cast()
    four = make_four(cast)
    world = furnish_job(cast, visit_taken_in(cast.writer, engine=four))
    run = analysed(partial(capture_read, cast), cast.diagnostician, "ref-01.csv", four)
    return furnish(cast, world, run, four)
