"""Errors over HTTP are RFC 9457 problem documents, whoever raises them."""

import logging
from typing import Any

from django.core.exceptions import PermissionDenied
from django.http import Http404, HttpRequest, JsonResponse
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
    answer = Response(body, status=body["status"], headers=headers or {}, content_type=MEDIA_TYPE)
    return answer


def handler(error: Exception, context: dict[str, Any]) -> Response | None:
    """DRF's exception handler: our own problems, DRF's errors, Django's 404 and 403. Others are left to 500."""
    if isinstance(error, Problem):
        fields = [{"field": f.field, "message": f.message} for f in error.fields]
        return _answer(document(error.status, error.title, error.detail, code=error.code, errors=fields))
    if isinstance(error, Http404):
        error = exceptions.NotFound()
    elif isinstance(error, PermissionDenied):
        error = exceptions.PermissionDenied()
    if not isinstance(error, exceptions.APIException):
        return None
    headers = {}
    if getattr(error, "auth_header", None):
        headers["WWW-Authenticate"] = error.auth_header
    if getattr(error, "wait", None) is not None:
        headers["Retry-After"] = str(int(error.wait) + 1)
    if isinstance(error, exceptions.ValidationError):
        return _answer(
            document(error.status_code, "Some values need another look", errors=_field_errors(error.detail)), headers
        )
    title = str(error.default_detail).rstrip(".")
    return _answer(document(error.status_code, title, str(error.detail)), headers)


def not_found(request: HttpRequest, exception: Exception | None = None) -> JsonResponse:
    """404 for addresses under /api/ that no route answers."""
    return plain(404, "Not found", "No such address. The list of addresses is at /api/v1/schema/.")
