"""Every address of the API: what it takes, and who may."""

from dataclasses import dataclass
from typing import Any
from uuid import UUID

from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse

from shopdiag.people.core.roles import Role
from tests.api.conftest import World
from tests.traces import tus
from tests.traces.conftest import csv_bytes

D, M, W, O = Role.DIAGNOSTICIAN, Role.MECHANIC, Role.WRITER, Role.OWNER  # noqa: E741
EVERYONE = frozenset({D, M, W, O})
BENCH = frozenset({D, O})
INTAKE = frozenset({D, W, O})
WORKS = frozenset({D, M, O})

NEW_JOB: dict[str, Any] = {
    "customer": {"name": "Nora Newcomer", "phone": "030 4711"},
    "vehicle": {"make": "Orchard", "model": "Estate", "plate": "NN 1"},
    "complaint": {"words": "It shakes at idle.", "happens": ["idle"]},
}
RUN: dict[str, Any] = {"firing_order": "1-3-4-2", "current_channel": "clamp", "mv_per_a": 10}
DECISION = {"kind": "without", "mechanical": "no", "reason": "A coil, by ear and by spark."}


@dataclass(frozen=True)
class Endpoint:
    """One method of one address.

    `on` names the row of the world whose number the address holds; "" for none.
    """

    method: str
    name: str
    on: str
    who: frozenset[Role]
    status: int = 200
    body: Any = None

    def __str__(self) -> str:
        return f"{self.method} {self.name}"

    def address(self, world: World) -> str:
        args = [getattr(world, self.on).pk] if self.on else []
        if self.name == "code":
            args.append(world.code.pk)
        if self.name in {"capture-aside", "capture-purpose"}:
            args.append(world.capture.pk)
        if self.name == "run-suggests":
            args.append(world.run.pk)
        if self.name == "upload":
            args.append(UUID(int=1))
        return reverse(f"api:{self.name}", args=args)

    def ask(self, client: Any, world: World) -> Any:
        if self.name == "visit-captures" and self.method == "post":
            file = SimpleUploadedFile("new.csv", csv_bytes(seed=77))
            return client.post(self.address(world), {"file": file}, format="multipart")
        if self.name == "uploads":
            return tus.create(client, "long.csv", 9)
        if self.name == "upload":
            return self._ask_of_own_upload(client)
        return getattr(client, self.method)(self.address(world), self.body)

    def _ask_of_own_upload(self, client: Any) -> Any:
        """Ask about an upload of the caller's own: of another's nobody is told anything."""
        location = tus.create(client, "long.csv", 9).get("Location")
        token = UUID(location.split("/")[-2]) if location else UUID(int=1)
        if self.method == "patch":
            return tus.patch(client, token, b"123456789", 0, 9)
        return getattr(client, self.method)(tus.address_of(token), headers=tus.VERSION)


LIMITS = {
    "test": "exhaust",
    "limits": {"back_idle_kpa": {"most": 10.0}},
    "source": "Manual, page 9",
}
ENDPOINTS = [
    Endpoint("get", "engines", "", EVERYONE),
    Endpoint("get", "engine-access", "engine", EVERYONE),
    Endpoint("post", "engine-access", "engine", BENCH, 200, {"banks": [{"minutes": 20}]}),
    Endpoint("get", "visits", "", EVERYONE),
    Endpoint("post", "visits", "", INTAKE, 201, NEW_JOB),
    Endpoint("get", "visit", "visit", EVERYONE),
    Endpoint("patch", "visit", "visit", INTAKE, 200, {"odometer": 120_000}),
    Endpoint("post", "move", "visit", BENCH, 200, {"to": "work", "reason": "Moved."}),
    Endpoint("get", "notes", "visit", EVERYONE),
    Endpoint("post", "notes", "visit", EVERYONE, 201, {"text": "Seen."}),
    Endpoint("get", "numbering", "visit", EVERYONE),
    Endpoint("post", "numbering", "visit", WORKS, 201, {"basis": "casting"}),
    Endpoint("get", "consents", "visit", EVERYONE),
    Endpoint(
        "post",
        "consents",
        "visit",
        INTAKE,
        201,
        {"agreed": False, "said_by": "Nora", "how": "phone"},
    ),
    Endpoint("post", "mail-again", "question", EVERYONE),
    Endpoint("get", "used", "visit", EVERYONE),
    Endpoint("post", "used", "visit", WORKS, 201, {"minutes": 20, "what": "Plugs out."}),
    Endpoint("get", "timeline", "visit", EVERYONE),
    Endpoint("get", "triage", "visit", EVERYONE),
    Endpoint("patch", "triage", "visit", BENCH, 200, {"cranks": "uneven"}),
    Endpoint("get", "codes", "visit", EVERYONE),
    Endpoint("post", "codes", "visit", BENCH, 201, {"text": "P0302 pending"}),
    Endpoint("delete", "code", "visit", BENCH, 204),
    Endpoint("get", "freeze-frames", "visit", EVERYONE),
    Endpoint("post", "freeze-frames", "visit", BENCH, 201, {"text": "Load 31 %"}),
    Endpoint("get", "misfires", "visit", EVERYONE),
    Endpoint("post", "misfires", "visit", BENCH, 201, {"counts": "1: 0, 2: 3"}),
    Endpoint("get", "visit-captures", "visit", EVERYONE),
    Endpoint("post", "visit-captures", "visit", BENCH, 201),
    Endpoint("get", "together", "visit", EVERYONE),
    Endpoint("get", "running", "visit", EVERYONE),
    Endpoint("get", "pressures", "visit", EVERYONE),
    Endpoint("get", "plan", "visit", EVERYONE),
    Endpoint("get", "run-suggests", "visit", EVERYONE),
    Endpoint("post", "capture-aside", "visit", BENCH, 200, {"why": "The clamp slipped."}),
    Endpoint("post", "capture-purpose", "visit", BENCH, 200, {"purpose": "diagnosis"}),
    Endpoint("get", "judgements", "visit", EVERYONE),
    Endpoint("post", "judgements", "visit", BENCH, 201, DECISION),
    Endpoint("get", "visit-orders", "visit", EVERYONE),
    Endpoint("post", "visit-orders", "visit", BENCH, 201),
    Endpoint("get", "outcome", "visit", EVERYONE),
    Endpoint("patch", "outcome", "visit", INTAKE, 200, {"told_customer": "All well."}),
    Endpoint("get", "capture", "capture", EVERYONE),
    Endpoint("post", "read-again", "capture", BENCH, 202),
    Endpoint("post", "correction", "capture", BENCH, 202, {"rate_hz": 500}),
    Endpoint("get", "capture-runs", "capture", EVERYONE),
    Endpoint("post", "capture-runs", "capture", BENCH, 202, RUN),
    Endpoint("get", "run", "run", EVERYONE),
    Endpoint("post", "uploads", "", BENCH, 201),
    Endpoint("get", "upload", "", BENCH),
    Endpoint("patch", "upload", "", BENCH, 204),
    Endpoint("delete", "upload", "", BENCH, 204),
    Endpoint("get", "learning", "", BENCH),
    Endpoint("get", "work-orders", "", EVERYONE),
    Endpoint("get", "work-order", "order", EVERYONE),
    Endpoint("post", "accept", "order", WORKS),
    Endpoint(
        "post",
        "findings",
        "order",
        WORKS,
        201,
        {"cylinder": 2, "test": "gauge_dry", "outcome": "good", "pressure_kpa": 1100},
    ),
    Endpoint(
        "post",
        "swaps",
        "order",
        WORKS,
        201,
        {"part": "coil", "from_cylinder": 2, "to_cylinder": 3, "followed": "yes"},
    ),
    Endpoint("get", "figure-limits", "order", EVERYONE),
    Endpoint(
        "post",
        "figure-limits",
        "order",
        BENCH,
        200,
        {
            "test": "exhaust",
            "scope": "job",
            "limits": {"back_idle_kpa": {"most": 10.0}},
            "source": "Manual, page 9",
        },
    ),
    Endpoint("get", "engine-limits", "engine", EVERYONE),
    Endpoint("post", "engine-limits", "engine", BENCH, 200, LIMITS),
    Endpoint("get", "shop-limits", "", EVERYONE),
    Endpoint("post", "shop-limits", "", frozenset({Role.OWNER}), 200, LIMITS),
    Endpoint("get", "questions", "order", EVERYONE),
    Endpoint("post", "questions", "order", WORKS, 201, {"text": "Which gasket?"}),
    Endpoint("post", "answer", "question", BENCH, 200, {"answer": "The head's."}),
    Endpoint("post", "complete", "order", WORKS, 200, {"summary": "Burnt valve.", "left_out": "x"}),
    Endpoint("post", "withdraw", "order", BENCH, 200, {"reason": "Wrong vehicle."}),
]
