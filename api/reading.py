"""The description of the API, and a page to read it by."""

from typing import Any

from csp.constants import SELF, UNSAFE_INLINE
from csp.decorators import csp_update
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from drf_spectacular.generators import SchemaGenerator
from drf_spectacular.utils import extend_schema
from rest_framework.renderers import JSONRenderer
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from api.problems import plain

_made: list[dict[str, Any]] = []


class OpenApiJson(JSONRenderer):
    """JSON under the media type OpenAPI has registered."""

    media_type = "application/vnd.oai.openapi+json"
    charset = None


def description() -> dict[str, Any]:
    """The whole description, made once a process: it is the same for everybody."""
    if not _made:
        _made.append(SchemaGenerator().get_schema(request=None, public=True))
    return _made[0]


class Description(APIView):
    """OpenAPI 3.1."""

    http_method_names = ["get", "head"]
    renderer_classes = [OpenApiJson, JSONRenderer]

    @extend_schema(exclude=True)
    def get(self, request: Request) -> Response:
        """This API, described."""
        return Response(description())


# The viewer sets styles on its own elements and draws its icons from data addresses; scripts still come from us alone.
@csp_update({"style-src": [SELF, UNSAFE_INLINE], "img-src": [SELF, "data:"]})
def reading_page(request: HttpRequest) -> HttpResponse:
    """The description as a page. Its assets come from a package, nothing from the network."""
    if request.method not in ("GET", "HEAD"):
        return plain(405, "Method not allowed", "This page is only read.", Allow="GET, HEAD")
    return render(request, "api/docs.html")
