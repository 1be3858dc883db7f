"""Photos: sent as raw bytes, shown re-encoded and without metadata."""

from typing import Any

import django_filters
from django.http import Http404, HttpResponse
from drf_spectacular.utils import OpenApiResponse, extend_schema
from rest_framework import serializers
from rest_framework.decorators import action
from rest_framework.negotiation import DefaultContentNegotiation
from rest_framework.request import Request
from rest_framework.response import Response

from api import filters
from api.digest import check_digest
from api.fields import Choice, Moment, Ref, Text, Uid, Whole
from api.parsers import RawBytes, RawImage
from api.schema import BYTES, IDEMPOTENCY_KEY, X_SHA256
from api.scoped import Found, Listed, Noun
from api.strict import Shown, Strict
from core import files
from jobs.models import Photo
from jobs.photos import add_photo
from jobs.read import visible

IMAGES = ("image/jpeg", "image/png", "image/webp", "image/heic", "application/octet-stream")


class PhotoGiven(Strict):
    """What is said of a photo, as query parameters beside the bytes."""

    uid = Uid()
    property = Ref(visible.properties, required=True)
    component = Ref(visible.components)
    moment = Choice(Photo.Moment.values)
    caption = Text(200)
    taken_at = Moment()
    closeout_uid = Uid()


class PhotoShown(Shown, PhotoGiven):
    """A picture of something at a property."""

    property = Ref(visible.properties)
    closeout_uid = Uid(allow_null=True)
    width_px = Whole()
    height_px = Whole()
    taken_by = Text(60)
    sha256 = serializers.CharField(source="original.sha256", help_text="Of the bytes as they were sent.")
    file = serializers.SerializerMethodField()

    def get_file(self, row: Photo) -> str:
        """Address of the picture."""
        return f"/api/v1/photos/{row.uid}/file/"


class AnyAccept(DefaultContentNegotiation):
    """There is one form of a picture; problems are JSON whatever a reader of pictures accepts."""

    def select_renderer(self, request: Any, renderers: Any, format_suffix: str | None = None) -> Any:
        return renderers[0], renderers[0].media_type


class PhotoFilter(django_filters.FilterSet):
    property = filters.Uid(field_name="property__uid")
    component = filters.Uid(field_name="component__uid")
    closeout_uid = filters.Uid(field_name="closeout_uid")
    moment = filters.Word(Photo.Moment.choices, field_name="moment")


class Photos(Listed, Found, Noun):
    """Photos, the newest first."""

    model = Photo
    visible_to = staticmethod(visible.photos)
    noun = "photo"
    newest_first = True
    related = ("property", "component", "original")
    serializer_class = PhotoShown
    filterset_class = PhotoFilter

    def get_parsers(self) -> list[Any]:
        return [RawImage(), RawBytes()] if self.request and self.request.method == "POST" else super().get_parsers()

    @extend_schema(
        request=dict.fromkeys(IMAGES, BYTES),
        responses={201: PhotoShown, 200: OpenApiResponse(PhotoShown, "Sent before with the same bytes.")},
        parameters=[PhotoGiven, X_SHA256, IDEMPOTENCY_KEY],
        filters=False,
    )
    def create(self, request: Request) -> Response:
        """Keep a photo: JPEG, PNG, WebP or HEIC, at most 20 MB; the body is the file itself."""
        given = self.given(PhotoGiven, data=request.query_params.dict())
        return self.made(add_photo, {**given, "data": check_digest(request)})

    create.takes_key = True  # type: ignore[attr-defined]

    @extend_schema(responses={(200, "image/jpeg"): BYTES}, filters=False)
    @action(detail=True, methods=["get"], content_negotiation_class=AnyAccept)
    def file(self, request: Request, uid: str) -> HttpResponse:
        """The picture, re-encoded, at most 2048 px, without metadata."""
        shown = self.one().shown
        if shown is None:
            raise Http404
        try:
            answer = HttpResponse(files.read(shown), content_type=shown.media_type)
        except FileNotFoundError:
            raise Http404 from None
        answer["ETag"] = f'"{shown.sha256[:32]}"'
        answer["Cache-Control"] = "private, max-age=86400"
        return answer
