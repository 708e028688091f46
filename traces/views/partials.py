"""Files that come in parts: a lost connection costs one part, and the rest goes on from there."""

from uuid import UUID

from django.http import HttpResponse, JsonResponse, UnreadablePostError
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_POST

from shopdiag.people.access import MemberRequest, requires
from shopdiag.people.core.roles import Action
from traces.forms.setup import PartialForm
from traces.models import PartialUpload
from traces.selectors.partials import partial_get, received_bytes
from traces.services.partials import (
    PartRefusedError,
    WrongPlaceError,
    part_take,
    partial_begin,
    partial_cancel,
)
from traces.uploads.headers import PartHeaderError, part_head
from traces.uploads.request_files import PART_BYTES, NoRoomError

_GONE = "This upload is not here any more; choose the file and send it again."
_READ_BYTES = 256 * 1024


@requires(Action.CAPTURE)
@require_POST
def begin(request: MemberRequest) -> HttpResponse:
    """Begin an upload: its name and size in, its token and the largest part out."""
    form = PartialForm(request.POST)
    if not form.is_valid():
        return _refused(422, *(str(e) for errors in form.errors.values() for e in errors))
    data = form.cleaned_data
    try:
        row = partial_begin(member=request.member, name=data["name"], size_bytes=data["size"])
    except PartRefusedError as refused:
        return _refused(422, *refused.messages)
    except NoRoomError as full:
        return _refused(507, str(full))
    answer = JsonResponse(_state(row), status=201)
    answer.headers["Location"] = reverse("traces:part", args=[row.token])
    return answer


@requires(Action.CAPTURE)
@require_http_methods(["GET", "HEAD", "PUT", "DELETE"])
def part(request: MemberRequest, token: UUID) -> HttpResponse:
    """Say how much of an upload is here, add a part to it, or give it up."""
    try:
        return _answer(request, token)
    except PartialUpload.DoesNotExist:
        return _refused(404, _GONE)
    except WrongPlaceError as wrong:
        return JsonResponse({"received": wrong.received_bytes}, status=409)
    except PartHeaderError as unread:
        return _refused(400, str(unread))
    except PartRefusedError as refused:
        return _refused(400, *refused.messages)
    except NoRoomError as full:
        return _refused(507, str(full))


def _answer(request: MemberRequest, token: UUID) -> HttpResponse:
    # Before anything is read: of what is not the member's own nothing is told, and none taken.
    row = partial_get(request.member, token)
    if request.method == "DELETE":
        partial_cancel(member=request.member, token=token)
        return HttpResponse(status=204)
    if request.method != "PUT":
        return JsonResponse(_state(row))
    head = part_head(request.headers)
    if head.place.size > PART_BYTES:
        return _refused(413, f"Send at most {PART_BYTES} bytes at once.")
    try:
        data = _body(request, head.place.size)
    except UnreadablePostError:
        return _refused(400, "The part was cut short; send it again.")
    received = part_take(member=request.member, token=token, head=head, data=data)
    return JsonResponse({"received": received})


def _state(row: PartialUpload) -> dict[str, str | int]:
    return {
        "token": str(row.token),
        "size": row.size_bytes,
        "received": received_bytes(row),
        "part_bytes": PART_BYTES,
    }


def _body(request: MemberRequest, size: int) -> bytes:
    """Return the part, and one byte more where more came than was announced."""
    data = bytearray()
    while len(data) <= size and (piece := request.read(min(_READ_BYTES, size + 1 - len(data)))):
        data += piece
    return bytes(data)


def _refused(status: int, *sentences: str) -> JsonResponse:
    return JsonResponse({"errors": list(sentences)}, status=status)
