"""Errors over HTTP are RFC 9457 problem documents, whoever raises them."""

import logging
from typing import Any

from django.conf import settings
from django.core.exceptions import PermissionDenied, RequestDataTooBig
from django.http import Http404, HttpRequest, HttpResponse, JsonResponse
from rest_framework import exceptions
from rest_framework.response import Response

from core.problem import Problem

log = logging.getLogger(__name__)
MEDIA_TYPE = "application/problem+json"


def document(status: int, title: str, detail: str = "", **more: Any) -> dict[str, Any]:
    """The members of RFC 9457 section 3.1; `about:blank` where the status says it all (4.2.1)."""
    body: dict[str, Any] = {"type": "about:blank", "title": title, "status": status}
    if detail:
        body["detail"] = detail
    return {**body, **{k: v for k, v in more.items() if v}}


def plain(status: int, title: str, detail: str = "", **headers: str) -> JsonResponse:
    """A problem document outside DRF's views."""
    answer = JsonResponse(document(status, title, detail), status=status, content_type=MEDIA_TYPE)
    for name, value in headers.items():
        answer[name.replace("_", "-")] = value
    return answer


def _field_errors(data: Any, prefix: str = "") -> list[dict[str, str]]:
    """DRF's nested error detail as a flat list of {field, message}."""
    if isinstance(data, dict):
        return [e for key, value in data.items() for e in _field_errors(value, f"{prefix}.{key}" if prefix else key)]
    if isinstance(data, list) and any(isinstance(item, dict | list) for item in data):
        return [e for i, item in enumerate(data) for e in _field_errors(item, f"{prefix}[{i}]")]
    items = data if isinstance(data, list) else [data]
    return [{"field": prefix, "message": str(item)} for item in items]


def _answer(body: dict[str, Any], headers: dict[str, str] | None = None) -> Response:
    return Response(body, status=body["status"], headers=headers or {}, content_type=MEDIA_TYPE)


def handler(error: Exception, context: dict[str, Any]) -> Response | None:
    """DRF's exception handler: our own problems, DRF's errors, Django's 404 and 403; anything else is ours: 500."""
    if isinstance(error, Problem):
        fields = [{"field": f.field, "message": f.message} for f in error.fields]
        more = getattr(error, "more", {})
        return _answer(document(error.status, error.title, error.detail, code=error.code, errors=fields, **more))
    if isinstance(error, Http404):
        error = exceptions.NotFound("There is nothing under this address, or it is not yours to see.")
    elif isinstance(error, PermissionDenied):
        error = exceptions.PermissionDenied()
    elif isinstance(error, RequestDataTooBig):
        return _answer(document(413, "Too large", str(error)))
    if not isinstance(error, exceptions.APIException):
        return _our_fault(error, context)
    headers = {}
    ways_in, wait = getattr(error, "auth_header", None), getattr(error, "wait", None)
    if ways_in:
        headers["WWW-Authenticate"] = ways_in
    if wait is not None:
        headers["Retry-After"] = str(int(wait) + 1)
    if isinstance(error, exceptions.ValidationError):
        found = _field_errors(error.detail)
        words = " ".join(item["message"] for item in found[:5])
        return _answer(document(422, "Some values need another look", words, code="badinput", errors=found), headers)
    title = str(error.default_detail).rstrip(".")
    return _answer(document(error.status_code, title, str(error.detail)), headers)


def _our_fault(error: Exception, context: dict[str, Any]) -> Response | None:
    if settings.DEBUG_PROPAGATE_EXCEPTIONS:
        return None
    request = context.get("request")
    log.error("%s %s", getattr(request, "method", ""), getattr(request, "path", ""), exc_info=error)
    return _answer(document(500, "Something broke on our side", "Nothing you sent was accepted. Try again later."))


def not_found(request: HttpRequest, rest: str = "") -> HttpResponse:
    """404 for addresses under /api/v1/ that no route answers."""
    slash = "" if request.path.endswith("/") else " Addresses end with a slash."
    return plain(404, "Not found", f"No such address.{slash} The list of addresses is at /api/v1/schema/.")
