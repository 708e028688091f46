"""Uploads by the open tus protocol, version 1.0.0 (tus.io): for programs and the pages' script.

Any client of the protocol works. A lost connection costs what was on its way, and the rest goes on
from there. What is ours beside it: the token of an upload that is whole goes to a visit's captures
as `arrived`, a GET tells the state as JSON, and the whole's SHA-256 may come as the metadata
`sha256` or, with any part, as `Repr-Digest`.
"""

from collections.abc import Iterator
from contextlib import suppress
from typing import Any
from uuid import UUID

from django.http import Http404, HttpRequest, HttpResponseBase, UnreadablePostError
from django.shortcuts import get_object_or_404
from django.urls import reverse
from django.utils.http import http_date
from django.utils.translation import gettext as _
from drf_spectacular.types import OpenApiTypes
from drf_spectacular.utils import OpenApiParameter, OpenApiResponse, extend_schema
from rest_framework import exceptions, serializers, status
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from shopdiag.people.authentication import (
    MemberSessionAuthentication,
    MemberTokenAuthentication,
    member_of,
)
from shopdiag.people.core.roles import Action
from traces.models import Upload
from traces.selectors.uploads import received_bytes
from traces.services.uploads import (
    ChecksumError,
    OffsetError,
    TooLargeError,
    UploadRefusedError,
    upload_append,
    upload_create,
    upload_terminate,
)
from traces.uploads import tus
from traces.uploads.files import PART_BYTES, NoRoomError
from traces.uploads.limits import capture_limit_bytes

_READ_BYTES = 256 * 1024
_CHECKSUM_MISMATCH = 460


_STATUS: tuple[tuple[type[Exception], int], ...] = (
    (TooLargeError, status.HTTP_413_REQUEST_ENTITY_TOO_LARGE),
    (ChecksumError, _CHECKSUM_MISMATCH),
    (UploadRefusedError, status.HTTP_400_BAD_REQUEST),
    (tus.TusHeaderError, status.HTTP_400_BAD_REQUEST),
    (OffsetError, status.HTTP_409_CONFLICT),
    (NoRoomError, status.HTTP_507_INSUFFICIENT_STORAGE),
)
"""What the protocol answers to what is refused; of a family the narrower kind first."""


class Refusal(exceptions.APIException):
    """A refusal with the protocol's own status."""

    def __init__(self, status_code: int, sentence: str) -> None:
        self.status_code = status_code
        super().__init__(sentence)


class UploadSerializer(serializers.Serializer[Any]):
    """How far an upload is."""

    token = serializers.UUIDField()
    size = serializers.IntegerField(source="size_bytes", help_text="The whole, in bytes.")
    received = serializers.IntegerField(
        source="received_bytes", help_text="Bytes that are here: the next part's offset."
    )
    part_bytes = serializers.SerializerMethodField(
        help_text="The most that one part with a checksum may hold."
    )

    def get_part_bytes(self, row: Upload) -> int:  # noqa: ARG002 - DRF's signature
        """Return what is held in memory at once."""
        return PART_BYTES


class TusView(APIView):
    """What all addresses of the protocol have in common."""

    authentication_classes = [MemberTokenAuthentication, MemberSessionAuthentication]

    def dispatch(self, request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponseBase:  # noqa: ANN401
        """Take the method from the header, where one in between lets not all methods through."""
        if method := request.headers.get("X-HTTP-Method-Override"):
            request.method = method.upper()
        return super().dispatch(request, *args, **kwargs)

    def initial(self, request: Request, *args: Any, **kwargs: Any) -> None:  # noqa: ANN401
        """Refuse other versions, once it is known who asks."""
        super().initial(request, *args, **kwargs)
        if request.method != "OPTIONS" and request.headers.get("Tus-Resumable") != tus.VERSION:
            sentence = _("Send “Tus-Resumable: %(version)s”.") % {"version": tus.VERSION}
            raise Refusal(status.HTTP_412_PRECONDITION_FAILED, sentence)

    def options(self, request: HttpRequest, *args: Any, **kwargs: Any) -> Response:  # noqa: ANN401, ARG002
        """Say what this server takes."""
        return Response(
            headers={
                "Tus-Version": tus.VERSION,
                "Tus-Extension": tus.EXTENSIONS,
                "Tus-Max-Size": str(capture_limit_bytes()),
                "Tus-Checksum-Algorithm": ",".join(tus.DIGEST_BYTES),
            },
        )

    def handle_exception(self, exc: Exception) -> Response:
        """Answer what the services refuse as the protocol says."""
        if isinstance(exc, Upload.DoesNotExist):
            exc = Http404()
        for kind, code in _STATUS:
            if isinstance(exc, kind):
                return super().handle_exception(Refusal(code, str(exc)))
        return super().handle_exception(exc)

    def finalize_response(
        self,
        request: Request,
        response: Response,
        *args: Any,  # noqa: ANN401 - DRF's signature
        **kwargs: Any,  # noqa: ANN401
    ) -> Response:
        """Name the protocol's version in every answer."""
        answer = super().finalize_response(request, response, *args, **kwargs)
        answer["Tus-Resumable"] = tus.VERSION
        if answer.status_code == status.HTTP_412_PRECONDITION_FAILED:
            answer["Tus-Version"] = tus.VERSION
        if answer.status_code == _CHECKSUM_MISMATCH:
            answer.reason_phrase = "Checksum Mismatch"
        return answer


def _header(name: str, what: str, *, required: bool = True) -> OpenApiParameter:
    return OpenApiParameter(name, str, OpenApiParameter.HEADER, required=required, description=what)


_VERSION = _header("Tus-Resumable", f"“{tus.VERSION}”.")


class UploadsView(TusView):
    """Uploads of files."""

    actions = {"POST": Action.CAPTURE}

    @extend_schema(
        parameters=[
            _VERSION,
            _header("Upload-Length", "The whole file's size in bytes."),
            _header(
                "Upload-Metadata",
                "Pairs of key and base64 value: “filename”, and “sha256” of the whole in "
                "hexadecimal digits; others are kept and told again.",
                required=False,
            ),
        ],
        request=None,
        responses={201: UploadSerializer},
    )
    def post(self, request: Request) -> Response:
        """Begin an upload (tus 1.0); `Location` names it.

        Its token goes to a visit's captures as `arrived` once it is whole. What nobody goes on
        with for a day is removed, where room is short after an hour.
        """
        if "Upload-Defer-Length" in request.headers:
            raise tus.TusHeaderError(_("Give “Upload-Length” now; none is taken later."))
        raw = request.headers.get("Upload-Metadata", "").strip()
        metadata = tus.metadata_of(raw)
        row = upload_create(
            member=member_of(request),
            name=tus.file_name_of(metadata),
            size_bytes=tus.number_of(request.headers, "Upload-Length"),
            sha256=tus.sha256_of_metadata(metadata),
            metadata=raw,
        )
        return Response(
            UploadSerializer(row).data,
            status=status.HTTP_201_CREATED,
            headers={"Location": reverse("api:upload", args=[row.token]), **_state_headers(row)},
        )


class UploadView(TusView):
    """One upload; only its sender sees it."""

    actions = {"GET": Action.CAPTURE, "PATCH": Action.CAPTURE, "DELETE": Action.CAPTURE}

    @extend_schema(parameters=[_VERSION], responses=UploadSerializer)
    def get(self, request: Request, token: UUID) -> Response:
        """Read how much is here, to go on from there; HEAD tells the same in headers."""
        row = get_object_or_404(Upload.objects.under_way_of(member_of(request)), pk=token)
        row.received_bytes = received_bytes(row)
        headers = {"Upload-Length": str(row.size_bytes), **_state_headers(row)}
        if row.metadata:
            headers["Upload-Metadata"] = row.metadata
        return Response(UploadSerializer(row).data, headers=headers)

    @extend_schema(
        parameters=[
            _VERSION,
            _header("Upload-Offset", "Where the part begins: as much as is here."),
            _header(
                "Upload-Checksum",
                f"“sha256 BASE64” or “sha1 BASE64” of a part of at most {PART_BYTES} bytes.",
                required=False,
            ),
            _header(
                "Repr-Digest",
                "“sha-256=:BASE64:” of the whole file, with any part (RFC 9530).",
                required=False,
            ),
        ],
        request={tus.PART_TYPE: OpenApiTypes.BINARY},
        responses={
            204: OpenApiResponse(description="Taken; `Upload-Offset` says how much is here."),
            409: OpenApiResponse(description="It begins elsewhere than where the file ends."),
            _CHECKSUM_MISMATCH: OpenApiResponse(description="It was changed on its way."),
        },
    )
    def patch(self, request: Request, token: UUID) -> Response:
        """Add a part. Without a checksum it may be of any length, and what came of it stays."""
        member = member_of(request)
        # Before anything is read: of what is not the member's own nothing is told, and none taken.
        get_object_or_404(Upload.objects.under_way_of(member), pk=token)
        if request.content_type != tus.PART_TYPE:
            raise exceptions.UnsupportedMediaType(
                str(request.content_type),
                _("Send the part as “%(part_type)s”.") % {"part_type": tus.PART_TYPE},
            )
        offset = tus.number_of(request.headers, "Upload-Offset")
        checksum = tus.checksum_of(request.headers.get("Upload-Checksum", ""))
        sha256 = tus.sha256_of_whole(request.headers.get("Repr-Digest", ""))
        pieces = _pieces(request, PART_BYTES)
        data = next(pieces)
        if checksum and next(pieces, b""):
            raise TooLargeError(
                _("Send at most %(part_bytes)s bytes at once with a checksum.")
                % {"part_bytes": PART_BYTES}
            )
        row = upload_append(
            member=member,
            token=token,
            offset=offset,
            data=data,
            checksum=checksum,
            sha256=sha256,
        )
        for piece in pieces:
            row = upload_append(
                member=member, token=token, offset=row.received_bytes, data=piece, sha256=sha256
            )
        return Response(status=status.HTTP_204_NO_CONTENT, headers=_state_headers(row))

    @extend_schema(parameters=[_VERSION], responses={204: None})
    def delete(self, request: Request, token: UUID) -> Response:
        """Give the upload up and remove what is here of it."""
        upload_terminate(member=member_of(request), token=token)
        return Response(status=status.HTTP_204_NO_CONTENT)


def _state_headers(row: Upload) -> dict[str, str]:
    return {
        "Upload-Offset": str(row.received_bytes),
        "Upload-Expires": http_date(row.expires_at.timestamp()),
    }


def _pieces(request: Request, most: int) -> Iterator[bytes]:
    """Yield the body in pieces of `most` bytes, at least one; of a cut one what came of it."""
    while True:
        data = bytearray()
        with suppress(UnreadablePostError):
            while len(data) < most and (piece := request.read(min(_READ_BYTES, most - len(data)))):
                data += piece
        yield bytes(data)
        if len(data) < most:
            return
