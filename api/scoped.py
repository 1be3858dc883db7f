"""The base of every noun: what is not in its `visible_to` selector does not exist for the person who asks."""

from collections.abc import Callable
from typing import TYPE_CHECKING, Any, ClassVar

from django.core.exceptions import ImproperlyConfigured
from django.db.models import Model, QuerySet
from django.http import Http404
from django.urls import reverse
from rest_framework import serializers, status
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView
from rest_framework.viewsets import GenericViewSet

from api import idempotency, preconditions
from api.auth import act_of
from core.act import Act
from core.problem import StaleVersion


class Private(APIView):
    """Answers belong to the one who asked: no cache between us keeps them."""

    def finalize_response(self, request: Request, response: Any, *args: Any, **kwargs: Any) -> Any:
        answer = super().finalize_response(request, response, *args, **kwargs)
        answer.headers.setdefault("Cache-Control", "private, no-cache")
        return answer


class Noun(Private, GenericViewSet):
    """One kind of record. A subclass names its `model` and its selector `visible_to(act)`; without, nothing starts.

    `noun`: the keyword its services call a record by. `related` and `prefetched` keep the queries of a list constant.
    `keys` order lists (api/paging.py). A view parses, makes one call, and renders what the selector then shows.
    """

    model: ClassVar[type[Model]]
    if TYPE_CHECKING:

        @staticmethod
        def visible_to(act: Act) -> QuerySet[Any]:
            """What `act` may see of this noun."""

    noun: ClassVar[str] = ""
    related: ClassVar[tuple[str, ...]] = ()
    prefetched: ClassVar[tuple[Any, ...]] = ()
    keys: ClassVar[tuple[str, ...]] = ("id",)
    newest_first: ClassVar[bool] = False
    lookup_field = "uid"
    lookup_value_converter = "uuid"
    http_method_names = ["get", "post", "put", "patch", "delete", "head"]

    def __init_subclass__(cls, **more: Any) -> None:
        super().__init_subclass__(**more)
        for name in ("model", "visible_to"):
            if not hasattr(cls, name):
                raise ImproperlyConfigured(f"{cls.__module__}.{cls.__name__} names no {name}: who may see these rows?")

    @property
    def act(self) -> Act:
        """Who asks, and when."""
        return act_of(self.request)

    def initial(self, request: Request, *args: Any, **kwargs: Any) -> None:
        super().initial(request, *args, **kwargs)
        handler = getattr(self, self.action or "", None)
        if request.method == "POST" and not getattr(handler, "takes_key", False):
            idempotency.refuse_key(request)

    def get_queryset(self) -> QuerySet[Any]:
        if getattr(self, "swagger_fake_view", False):
            return self.model._default_manager.none()
        rows = type(self).visible_to(self.act)
        rows = rows.select_related(*self.related) if self.related else rows
        return rows.prefetch_related(*self.prefetched) if self.prefetched else rows

    def one(self) -> Any:
        """The record named in the address. Raises Http404 where it is hidden or not there."""
        return self.find(uid=self.kwargs["uid"])

    def find(self, **key: Any) -> Any:
        """The one visible record with this key, as lists show it. Raises Http404."""
        row = self.get_queryset().filter(**key).first()
        if row is None:
            raise Http404
        return row

    def given(
        self, takes: type[serializers.BaseSerializer], *, partial: bool = False, data: Any = None
    ) -> dict[str, Any]:
        """What was sent, read by `takes`. Raises ValidationError naming every bad field."""
        sent = self.request.data if data is None else data
        read: Any = takes(data=sent, partial=partial, context=self.get_serializer_context())
        read.is_valid(raise_exception=True)
        return dict(read.validated_data)

    def answer(self, row: Any, *, status: int = 200, **headers: str) -> Response:
        """One record with its ETag, as the selector shows it now."""
        found = self.find(pk=row.pk)
        answer = Response(self.get_serializer(found).data, status=status)
        for name, value in headers.items():
            answer[name.replace("_", "-")] = value
        revision = self.revision_of(found)
        if revision is not None:
            answer["ETag"] = preconditions.etag(revision)
        return answer

    def revision_of(self, row: Any) -> int | None:
        """What the ETag says; None for a record whose last word holds."""
        return getattr(row, "revision", None)

    def made(self, make: Callable[..., Any], given: dict[str, Any]) -> Response:
        """Create with a service that takes a client-made uid: 201, or 200 where the same was sent before."""
        uid = idempotency.uid_stated(self.request, given)
        before = uid is not None and self.get_queryset().filter(uid=uid).exists()
        row = make(act=self.act, **given, **({"uid": uid} if uid is not None else {}))
        return self.told(row, before=before)

    def told(self, row: Any, *, before: bool = False) -> Response:
        """The answer to a creation, with its address."""
        if before:
            return self.answer(row, Location=self.address(row), Idempotency_Replayed="true")
        return self.answer(row, status=status.HTTP_201_CREATED, Location=self.address(row))

    def address(self, row: Any) -> str:
        """Where this record is found."""
        return reverse(f"api:{self.basename}-detail", args=[row.uid])

    def changed(self, change: Callable[..., Any], takes: type[serializers.BaseSerializer]) -> Response:
        """Change the fields given, if the record still is what If-Match says. Shows both where it is not."""
        row = self.one()
        revision = self.revision_of(row)
        stated: dict[str, Any] = {}
        if revision is not None:
            stated["revision"] = preconditions.revision_stated(self.request, revision, needed=True)
        fields = self.given(takes, partial=True)
        return self.answer(self.guarded(change, row, **stated, **fields))

    def guarded(self, change: Callable[..., Any], row: Any, **given: Any) -> Any:
        """Call a service on a record; a stale version is answered with what was sent and what is there now."""
        try:
            return change(act=self.act, **{self.noun: row}, **given)
        except StaleVersion as error:
            present = self.get_serializer(self.one()).data
            raise preconditions.Stale(error.detail, yours=self.request.data, present=present) from error


class Listed:
    """Adds GET of the list."""

    def list(self: Any, request: Request) -> Response:
        rows = self.filter_queryset(self.get_queryset())
        page = self.paginate_queryset(rows)
        return self.get_paginated_response(self.get_serializer(page, many=True).data)


class Found:
    """Adds GET of one."""

    def retrieve(self: Any, request: Request, uid: Any) -> Response:
        return self.answer(self.one())
