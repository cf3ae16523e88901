"""Photos: sent by paired phones, shown again to the crew they came from."""

from hashlib import sha256
from uuid import UUID

from django.http import FileResponse, Http404
from django.shortcuts import get_object_or_404
from django.utils import timezone
from drf_spectacular.types import OpenApiTypes
from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from agency import workflows
from agency.diagnostics.photos import Photo

from .answers import AnswerSerializer, respond
from .authentication import device_of, person
from .parsing import BoundedFormParser
from .permissions import IsPairedPhone

OPTIONAL = ("visit", "test_key")
"""Fields that a form can only leave empty where a document would say null."""


class PhotoFormSerializer(serializers.Serializer):
    """A photo with what is said of it."""

    client_key = serializers.UUIDField()
    job = serializers.UUIDField()
    visit = serializers.UUIDField(required=False)
    test_key = serializers.UUIDField(required=False)
    caption = serializers.CharField(max_length=240, required=False)
    taken_at = serializers.DateTimeField()
    file = serializers.FileField()


class Photos(APIView):
    """Send a photo."""

    permission_classes = (IsPairedPhone,)
    parser_classes = (BoundedFormParser,)

    @extend_schema(
        request={"multipart/form-data": PhotoFormSerializer},
        responses={201: AnswerSerializer, 400: AnswerSerializer, 422: AnswerSerializer},
    )
    def post(self, request: Request) -> Response:
        """Keep one photo, made anew without what the camera wrote in; a repeat changes nothing."""
        bodies = [one.read() for one in request.FILES.getlist("file")]
        record = {name: _only(said) for name, said in request.POST.lists() if name != "file"}
        record |= {name: "a file" for name in request.FILES if name != "file"}
        if bodies:
            record["file"] = _only([sha256(one).hexdigest() for one in bodies])
        told = {name: said for name, said in record.items() if said or name not in OPTIONAL}
        body = bodies[0] if bodies else b""
        return respond(workflows.receive_photo(device_of(request), told, body, now=timezone.now()))


def _only(said: list[str]) -> str | list[str]:
    """The one value of a name; a name that came twice stays a list, and is refused as one."""
    return said[0] if len(said) == 1 else said


class PhotoFile(APIView):
    """Look at a photo."""

    @extend_schema(responses={(200, "image/jpeg"): OpenApiTypes.BINARY})
    def get(self, request: Request, pk: UUID) -> FileResponse:
        """The picture, for those who may see its job."""
        photo = get_object_or_404(Photo.objects.visible_to(person(request)), pk=pk)
        try:
            picture = photo.file.open("rb")
        except FileNotFoundError:
            raise Http404(f"The file of {photo} is not in the store.") from None
        answer = FileResponse(picture, content_type="image/jpeg", filename=f"{photo.pk}.jpg")
        answer["X-Content-Type-Options"] = "nosniff"
        answer["Content-Security-Policy"] = "default-src 'none'; sandbox"
        return answer
