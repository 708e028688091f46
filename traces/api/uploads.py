"""Files that come in parts from programs, by the same rules as from pages."""

from typing import IO, Any
from uuid import UUID

from django.http import Http404
from drf_spectacular.types import OpenApiTypes
from drf_spectacular.utils import OpenApiParameter, extend_schema
from rest_framework import exceptions, serializers, status
from rest_framework.parsers import BaseParser
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from shopdiag.people.api.errors import TooLarge
from shopdiag.people.api.serializers import KnownFields
from shopdiag.people.authentication import member_of
from shopdiag.people.core.roles import Action
from traces.models import PartialUpload
from traces.selectors.partials import partial_get, received_bytes
from traces.services.partials import WrongPlaceError, part_take, partial_begin, partial_cancel
from traces.uploads.headers import PartHeaderError, part_head
from traces.uploads.request_files import PART_BYTES, NoRoomError


class NoRoom(exceptions.APIException):
    """The disk is full."""

    status_code = status.HTTP_507_INSUFFICIENT_STORAGE
    default_code = "no_room"


class PartParser(BaseParser):
    """The bytes of a part, and one more where more came than a part may hold."""

    media_type = "application/octet-stream"

    def parse(
        self,
        stream: IO[Any],
        media_type: str | None = None,  # noqa: ARG002 - DRF's signature
        parser_context: Any = None,  # noqa: ANN401, ARG002 - DRF's signature
    ) -> Any:  # noqa: ANN401 - the bytes
        data = bytearray()
        while len(data) <= PART_BYTES and (piece := stream.read(PART_BYTES + 1 - len(data))):
            data += piece
        return bytes(data)


class UploadBegunSerializer(KnownFields):
    """A file that is to come in parts."""

    name = serializers.CharField(max_length=1000)
    size = serializers.IntegerField(min_value=1, max_value=2**53, help_text="In bytes.")


class UploadSerializer(serializers.Serializer[Any]):
    """How far an upload is."""

    token = serializers.UUIDField()
    size = serializers.IntegerField(help_text="The whole, in bytes.")
    received = serializers.IntegerField(help_text="Bytes that are here: the next part's first.")
    part_bytes = serializers.IntegerField(help_text="The most that one part may hold.")


class UploadReceivedSerializer(serializers.Serializer[Any]):
    """How much of an upload is here."""

    received = serializers.IntegerField()


def _state(row: PartialUpload) -> Response:
    told = {
        "token": row.token,
        "size": row.size_bytes,
        "received": received_bytes(row),
        "part_bytes": PART_BYTES,
    }
    return Response(UploadSerializer(told).data)


class UploadsView(APIView):
    """Uploads of large files."""

    actions = {"POST": Action.CAPTURE}

    @extend_schema(request=UploadBegunSerializer, responses={201: UploadSerializer})
    def post(self, request: Request) -> Response:
        """Begin an upload in parts; its token goes to a visit's captures as `arrived` at the end.

        What nobody goes on with for a day is removed.
        """
        asked = UploadBegunSerializer(data=request.data)
        asked.is_valid(raise_exception=True)
        sent = asked.validated_data
        try:
            row = partial_begin(
                member=member_of(request), name=sent["name"], size_bytes=sent["size"]
            )
        except NoRoomError as full:
            raise NoRoom(str(full)) from full
        answer = _state(row)
        answer.status_code = status.HTTP_201_CREATED
        return answer


def _header(name: str, what: str, *, required: bool = True) -> OpenApiParameter:
    return OpenApiParameter(name, str, OpenApiParameter.HEADER, required=required, description=what)


class UploadView(APIView):
    """One upload in parts; only its sender sees it."""

    actions = {"GET": Action.CAPTURE, "PUT": Action.CAPTURE, "DELETE": Action.CAPTURE}
    parser_classes = [PartParser]

    @extend_schema(responses=UploadSerializer)
    def get(self, request: Request, token: UUID) -> Response:
        """Read how much is here, to go on from there."""
        return _state(_own(request, token))

    @extend_schema(
        parameters=[
            _header("Content-Range", "“bytes FIRST-LAST/TOTAL”, counted from 0 (RFC 9110)."),
            _header("Content-Digest", "“sha-256=:BASE64:” of the part (RFC 9530)."),
            _header("Repr-Digest", "The same of the whole file, with any part.", required=False),
        ],
        request={"application/octet-stream": OpenApiTypes.BINARY},
        responses={200: UploadReceivedSerializer, 409: UploadReceivedSerializer},
    )
    def put(self, request: Request, token: UUID) -> Response:
        """Add the next part; at the wrong place 409 says where the next one begins."""
        _own(request, token)
        try:
            head = part_head(request.headers)
            data: Any = request.data
        except PartHeaderError as unread:
            raise exceptions.ParseError(str(unread)) from unread
        if len(data) > PART_BYTES:
            raise TooLarge(f"Send at most {PART_BYTES} bytes at once.")
        try:
            received = part_take(
                member=member_of(request), token=token, head=head, data=data or b""
            )
        except PartialUpload.DoesNotExist as gone:
            raise Http404 from gone
        except WrongPlaceError as wrong:
            told = {"received": wrong.received_bytes}
            return Response(UploadReceivedSerializer(told).data, status=status.HTTP_409_CONFLICT)
        except NoRoomError as full:
            raise NoRoom(str(full)) from full
        return Response(UploadReceivedSerializer({"received": received}).data)

    @extend_schema(responses={204: None})
    def delete(self, request: Request, token: UUID) -> Response:
        """Give the upload up and remove what is here of it."""
        row = _own(request, token)
        partial_cancel(member=member_of(request), token=row.token)
        return Response(status=status.HTTP_204_NO_CONTENT)


def _own(request: Request, token: UUID) -> PartialUpload:
    try:
        return partial_get(member_of(request), token)
    except PartialUpload.DoesNotExist as unknown:
        raise Http404 from unknown
