"""Captures, how they were set up, and the runs that analysed them."""

from collections.abc import Callable
from datetime import datetime, timedelta
from pathlib import PurePath
from typing import Any, ClassVar, Self, TypeVar
from uuid import uuid4

from django.db import models
from django.utils import timezone
from django.utils.translation import gettext_lazy as _

from engines.models import Engine
from shopdiag.people.models import InShop, Member, ShopOwned, ShopQuerySet
from traces.core.report import Report, setup_words
from traces.core.setup import AnalysisSetup, Conditions
from traces.core.signal_kinds import SIGNAL_KINDS

Stored = TypeVar("Stored")
Read = TypeVar("Read")


def _original_path(capture: "Capture", filename: str) -> str:
    """Return where an upload is kept: never under a name that its sender chose."""
    suffix = PurePath(filename).suffix.lower()
    safe = suffix if suffix[1:].isalnum() and len(suffix) <= 8 else ""
    return f"captures/{capture.shop_id}/{uuid4().hex}{safe}"


class Work(models.Model):
    """Something the worker does for a row: claimed once, given up after a few attempts.

    The row is the truth and a queue message only a hint. A worker owns the row while
    `attempt_token` is its own and `heartbeat_at` is fresh; `traces.runs` moves the states.
    """

    class State(models.TextChoices):
        QUEUED = "queued", _("Queued")
        RUNNING = "running", _("Running")
        DONE = "done", _("Done")
        FAILED = "failed", _("Failed")

    state = models.CharField(
        max_length=8, choices=State.choices, default=State.QUEUED, editable=False, db_index=True
    )
    attempts = models.PositiveSmallIntegerField(default=0, editable=False)
    attempt_token = models.UUIDField(null=True, editable=False)
    queued_at = models.DateTimeField(default=timezone.now, editable=False)
    sent_at = models.DateTimeField(null=True, editable=False)
    started_at = models.DateTimeField(null=True, editable=False)
    heartbeat_at = models.DateTimeField(null=True, editable=False)
    finished_at = models.DateTimeField(null=True, editable=False)
    error = models.TextField(blank=True, editable=False)

    class Meta:
        abstract = True

    @property
    def is_settled(self) -> bool:
        """Whether nothing more will happen by itself."""
        return self.state in {self.State.DONE, self.State.FAILED}


class CaptureQuerySet(ShopQuerySet["Capture"]):
    """Captures."""

    def with_reading(self) -> Self:
        """Return them with what the file is taken for now and who uploaded it."""
        return self.select_related("current_reading", "uploaded_by__user")


class Capture(ShopOwned):
    """An uploaded recording, kept as it came."""

    original = models.FileField(upload_to=_original_path, max_length=200)
    original_name = models.CharField(max_length=200)
    size_bytes = models.PositiveBigIntegerField()
    sha256 = models.CharField(max_length=64, db_index=True)
    label = models.CharField(_("what it shows"), max_length=120, blank=True)
    uploaded_at = models.DateTimeField(default=timezone.now, editable=False)
    uploaded_by = models.ForeignKey(Member, on_delete=models.PROTECT, related_name="+")
    current_reading = models.OneToOneField(
        "Reading", null=True, on_delete=models.SET_NULL, related_name="+", editable=False
    )
    """What the file is taken for now; null only for the moment in which a capture is added."""

    objects: ClassVar = CaptureQuerySet.as_manager()

    class Meta:
        ordering = ["-pk"]

    def __str__(self) -> str:
        return self.label or self.original_name

    @property
    def reading(self) -> "Reading":
        """What the file is taken for now."""
        if self.current_reading is None:
            raise Reading.DoesNotExist
        return self.current_reading


class Reading(InShop, Work):
    """What the worker understood a capture's file to be; a correction by hand is another row.

    `understood` is the published form of `manage.py inspect`; `samples_file` holds the
    channels as float32, one row a channel, for screens and analysis.
    """

    shop_path = "capture__shop_id"

    capture = models.ForeignKey(Capture, on_delete=models.CASCADE, related_name="readings")
    rate_hz_given = models.FloatField(null=True, editable=False)
    correction = models.JSONField(default=dict, editable=False)
    """What a person said about the file before it was read; empty where nobody did."""
    shape = models.CharField(max_length=64, blank=True, editable=False, db_index=True)
    """Digest of the file's structure: the next export of the same logger has the same."""
    asked_by = models.ForeignKey(
        Member, null=True, on_delete=models.PROTECT, related_name="+", editable=False
    )
    form_token = models.UUIDField(null=True, editable=False)
    understood = models.JSONField(default=dict, editable=False)
    roles = models.JSONField(default=dict, editable=False)
    """`ChannelRoles` as the worker saw them; empty for what was read before it looked."""
    sketch = models.JSONField(default=list, editable=False)
    """Of its samples (`sketch_of`), by which other files of the same recording are known."""
    samples_file = models.CharField(max_length=200, blank=True, editable=False)

    @property
    def channels(self) -> list[dict[str, Any]]:
        """Name, unit and range of each channel."""
        found: list[dict[str, Any]] = self.understood.get("channels", [])
        return found


class CaptureSetup(models.Model):
    """How one analysis was set up; never changed, another set-up is another row."""

    class Throttle(models.TextChoices):
        UNKNOWN = "", _("Not noted")
        CLOSED = "closed", _("Closed")
        OPEN = "open", _("Held open")

    class Temperature(models.TextChoices):
        UNKNOWN = "", _("Not noted")
        COLD = "cold", _("Cold")
        WARM = "warm", _("Warm")
        HOT = "hot", _("Hot")

    capture = models.ForeignKey(Capture, on_delete=models.CASCADE, related_name="setups")
    engine = models.ForeignKey(Engine, null=True, on_delete=models.PROTECT, related_name="+")
    settings = models.JSONField()
    """`AnalysisSetup.to_json()`: firing order and angles frozen as they were."""
    fuel_off = models.BooleanField(null=True)
    charger_off = models.BooleanField(null=True)
    throttle = models.CharField(max_length=8, blank=True, choices=Throttle.choices)
    temperature = models.CharField(max_length=8, blank=True, choices=Temperature.choices)
    battery_v = models.FloatField(null=True)
    form_token = models.UUIDField(default=uuid4, unique=True, editable=False)
    """Goes out with a form, so that a form sent twice makes one run."""
    came_from = models.ForeignKey(
        "self", null=True, on_delete=models.PROTECT, related_name="+", editable=False
    )
    """The set-up that this one changed by hand, to which undoing leads back."""
    change = models.CharField(max_length=200, blank=True, editable=False)
    """What was changed by hand, in words."""
    created_at = models.DateTimeField(default=timezone.now, editable=False)
    created_by = models.ForeignKey(Member, on_delete=models.PROTECT, related_name="+")

    @property
    def analysis(self) -> AnalysisSetup:
        """The set-up as the analysis takes it."""
        return _read_once(self, self.settings, AnalysisSetup.from_json)

    @property
    def conditions(self) -> Conditions:
        """How the vehicle was prepared, as noted."""
        return Conditions(
            fuel_off=self.fuel_off,
            charger_off=self.charger_off,
            throttle=self.throttle,
            temperature=self.temperature,
            battery_v=self.battery_v,
        )

    @property
    def words(self) -> str:
        """The set-up as one line."""
        return setup_words(self.analysis)


_NO_ROW_OF_COMPRESSIONS = models.Q(
    setup__settings__signal__in=[k.code for k in SIGNAL_KINDS if not k.shows_compressions]
)
ONE_CYLINDER = models.Q(
    setup__settings__signal__in=[k.code for k in SIGNAL_KINDS if k.shows_one_cylinder]
)
"""Runs of one cylinder's pressure."""
IDLING = _NO_ROW_OF_COMPRESSIONS & ~ONE_CYLINDER
"""Runs of an idling engine's crank teeth."""
COMPRESSIONS = ~_NO_ROW_OF_COMPRESSIONS | models.Q(setup__settings__signal__isnull=True)
"""Runs whose signal shows compressions; a set-up of an older version names no signal."""


class RunQuerySet(ShopQuerySet["Run"]):
    """Runs."""

    def with_setup(self) -> Self:
        """Return them with their capture and how they were set up by whom."""
        return self.select_related("capture", "setup__engine", "setup__created_by__user")


class Run(InShop, Work):
    """One analysis of one capture under one set-up; re-analysing adds another."""

    shop_path = "capture__shop_id"

    capture = models.ForeignKey(Capture, on_delete=models.CASCADE, related_name="runs")
    setup = models.OneToOneField(CaptureSetup, on_delete=models.PROTECT, related_name="run")
    reading = models.ForeignKey(Reading, on_delete=models.PROTECT, related_name="runs")
    """The samples that were judged; the capture may have been read anew since."""
    code_version = models.CharField(max_length=40, blank=True, editable=False)
    sha256 = models.CharField(max_length=64, blank=True, editable=False)
    verdict = models.CharField(max_length=12, blank=True, editable=False)
    result = models.JSONField(null=True, editable=False)

    objects: ClassVar = RunQuerySet.as_manager()

    class Meta:
        ordering = ["-pk"]

    @property
    def report(self) -> Report | None:
        """The analysis' report, once there is one."""
        return _read_once(self, self.result, Report.from_json) if self.result else None


def _read_once(row: models.Model, stored: Stored, read: Callable[[Stored], Read]) -> Read:
    """Return what `stored` says, read once for a row: a page asks a run's report a dozen times."""
    kept: tuple[Stored, Read] | None = row.__dict__.get("_read_once")
    if kept is None or kept[0] is not stored:
        kept = row.__dict__["_read_once"] = (stored, read(stored))
    return kept[1]


class FileShape(ShopOwned):
    """A correction that the shop's later files of the same shape are read with.

    Rows are added; the newest of a shape that is not forgotten counts.
    """

    shape = models.CharField(max_length=64, db_index=True, editable=False)
    correction = models.JSONField(editable=False)
    learned_from = models.ForeignKey(Capture, on_delete=models.PROTECT, related_name="+")
    created_at = models.DateTimeField(default=timezone.now, editable=False)
    created_by = models.ForeignKey(Member, on_delete=models.PROTECT, related_name="+")
    forgotten_at = models.DateTimeField(null=True, editable=False)

    class Meta:
        ordering = ["-pk"]


class PinnedNote(InShop):
    """A note at a place in a capture's time; added, never changed. One may strike another."""

    shop_path = "capture__shop_id"

    capture = models.ForeignKey(Capture, on_delete=models.CASCADE, related_name="pinned_notes")
    at_s = models.FloatField()
    text = models.CharField(max_length=500)
    form_token = models.UUIDField(null=True, editable=False)
    strikes = models.ForeignKey(
        "self", null=True, on_delete=models.PROTECT, related_name="struck_by", editable=False
    )
    created_at = models.DateTimeField(default=timezone.now, editable=False)
    created_by = models.ForeignKey(Member, on_delete=models.PROTECT, related_name="+")

    class Meta:
        ordering = ["at_s", "pk"]


class KnownGood(ShopOwned):
    """A run of a sound engine, kept to lay others beside."""

    run = models.ForeignKey(Run, on_delete=models.PROTECT, related_name="known_good")
    engine = models.ForeignKey(Engine, on_delete=models.PROTECT, related_name="+")
    note = models.CharField(max_length=200, blank=True)
    created_at = models.DateTimeField(default=timezone.now, editable=False)
    created_by = models.ForeignKey(Member, on_delete=models.PROTECT, related_name="+")
    retired_at = models.DateTimeField(null=True, editable=False)
    retired_by = models.ForeignKey(
        Member, null=True, on_delete=models.PROTECT, related_name="+", editable=False
    )

    class Meta:
        ordering = ["-pk"]


class EventAngle(ShopOwned):
    """Where an injector event or a cam edge stands on an engine; the newest in use counts."""

    class Event(models.TextChoices):
        INJECTOR = "injector", _("Injector")
        CAM = "cam", _("Cam sensor edge")

    engine = models.ForeignKey(Engine, on_delete=models.PROTECT, related_name="+")
    event = models.CharField(max_length=8, choices=Event.choices)
    cylinder = models.PositiveSmallIntegerField()
    """From whose firing top dead centre the angle counts."""
    angle_deg = models.FloatField()
    """Crank degrees from that top dead centre, negative before it."""
    spread_deg = models.FloatField(null=True)
    """Standard deviation, where the angle was measured."""
    known_from = models.CharField(_("how it is known"), max_length=200)
    run = models.ForeignKey(Run, null=True, on_delete=models.PROTECT, related_name="+")
    """The run that measured it; None where somebody typed it."""
    created_at = models.DateTimeField(default=timezone.now, editable=False)
    created_by = models.ForeignKey(Member, on_delete=models.PROTECT, related_name="+")
    retired_at = models.DateTimeField(null=True, editable=False)
    retired_by = models.ForeignKey(
        Member, null=True, on_delete=models.PROTECT, related_name="+", editable=False
    )

    class Meta:
        ordering = ["-pk"]


class ClampQuerySet(ShopQuerySet["Clamp"]):
    """Clamps."""

    def in_use(self) -> Self:
        """Return those that are offered, by name."""
        return self.filter(retired_at=None).order_by("name", "mv_per_a", "pk")


class Clamp(ShopOwned):
    """A current clamp of the shop at one scale, offered in every set-up."""

    name = models.CharField(max_length=60)
    mv_per_a = models.FloatField()
    form_token = models.UUIDField(null=True, editable=False)
    created_at = models.DateTimeField(default=timezone.now, editable=False)
    created_by = models.ForeignKey(Member, on_delete=models.PROTECT, related_name="+")
    retired_at = models.DateTimeField(null=True, editable=False)

    objects: ClassVar = ClampQuerySet.as_manager()

    class Meta:
        ordering = ["-pk"]

    @property
    def scale_words(self) -> str:
        """The scale without needless decimals."""
        return f"{self.mv_per_a:g}"


class UploadQuerySet(ShopQuerySet["Upload"]):
    """Uploads."""

    def under_way_of(self, member: Member) -> Self:
        """Return the member's own uploads that are not finished."""
        return self.seen_by(member).filter(created_by=member, finished_at=None)


class Upload(ShopOwned):
    """A file on its way in by the tus protocol; `received_bytes` of it are here for good."""

    KEPT_FOR = timedelta(hours=24)
    """An upload that nobody went on with for so long is given up."""

    token = models.UUIDField(primary_key=True, default=uuid4, editable=False)
    name = models.CharField(max_length=200)
    size_bytes = models.PositiveBigIntegerField()
    received_bytes = models.PositiveBigIntegerField(default=0)
    sha256 = models.CharField(max_length=64, blank=True)
    """What its sender says the whole is, where it says so; at the end, what it was."""
    metadata = models.TextField(blank=True, editable=False)
    """`Upload-Metadata` as it came, told again to whoever asks where to go on."""
    created_at = models.DateTimeField(default=timezone.now, editable=False)
    touched_at = models.DateTimeField(default=timezone.now, db_index=True)
    finished_at = models.DateTimeField(null=True, editable=False)
    created_by = models.ForeignKey(Member, on_delete=models.PROTECT, related_name="+")

    objects: ClassVar = UploadQuerySet.as_manager()

    @property
    def expires_at(self) -> datetime:
        """When it is given up at the latest if nobody goes on with it."""
        return self.touched_at + self.KEPT_FOR


class WorkerBeat(models.Model):
    """When a worker last said that it is there."""

    name = models.CharField(max_length=120, unique=True)
    seen_at = models.DateTimeField()
