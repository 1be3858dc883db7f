"""The OpenAPI 3.1 description: what the generator cannot know is said here once."""

from collections.abc import Callable
from typing import Any, TypeVar

from drf_spectacular.extensions import OpenApiAuthenticationExtension
from drf_spectacular.openapi import AutoSchema
from drf_spectacular.types import OpenApiTypes
from drf_spectacular.utils import OpenApiParameter, OpenApiResponse, extend_schema
from rest_framework.serializers import BaseSerializer

from api.fields import LOCAL_TIME
from core.company import Company
from jobs.kinds import registry
from jobs.kinds.dimensions import json_schema
from maintenance.decide.closeout_meaning import closeout_schema
from maintenance.decide.rule_numbers import MODELS

F = TypeVar("F", bound=Callable[..., Any])
Takes = type[BaseSerializer] | dict[Any, Any] | None

IDEMPOTENCY_KEY = OpenApiParameter(
    "Idempotency-Key",
    str,
    OpenApiParameter.HEADER,
    description="Made by the client: the same key with the same values makes one record, however often it is sent.",
)
IF_MATCH = OpenApiParameter(
    "If-Match",
    str,
    OpenApiParameter.HEADER,
    required=True,
    description="The ETag of the version you change.",
)
IF_MATCH_MAY = OpenApiParameter(
    "If-Match",
    str,
    OpenApiParameter.HEADER,
    description="The ETag of the version you saw; without it the present one is changed.",
)
X_SHA256 = OpenApiParameter(
    "X-Sha256",
    {"type": "string", "pattern": "^[0-9a-fA-F]{64}$"},
    OpenApiParameter.HEADER,
    required=True,
    description="SHA-256 of the body, in hexadecimal.",
)
PROBLEM_REF = {"$ref": "#/components/schemas/Problem"}
PROBLEM = {
    "type": "object",
    "description": "RFC 9457.",
    "required": ["type", "title", "status"],
    "properties": {
        "type": {"type": "string"},
        "title": {"type": "string"},
        "status": {"type": "integer"},
        "detail": {"type": "string"},
        "code": {"type": "string"},
        "errors": {
            "type": "array",
            "items": {
                "type": "object",
                "required": ["field", "message"],
                "properties": {"field": {"type": "string"}, "message": {"type": "string"}},
            },
        },
        "yours": {"description": "With 412: what you sent."},
        "present": {"description": "With 412: what is there now."},
    },
}


def creates(takes: Takes, shows: Any, *, key: bool = True, words: str = "") -> Callable[[F], F]:
    """A creation: 201, and with a key or a uid of the client's own 200 for the same again."""

    def mark(view: F) -> F:
        view.takes_key = key  # type: ignore[attr-defined]
        again = {200: OpenApiResponse(shows, "Sent before with the same values.")} if key else {}
        told: F = extend_schema(
            request=takes,
            responses={201: shows, **again},
            parameters=[IDEMPOTENCY_KEY] if key else [],
            description=words or None,
        )(view)
        return told

    return mark


def changes(takes: Takes, shows: Any, *, versioned: bool = True) -> Callable[[F], F]:
    """A change of some fields."""
    return extend_schema(request=takes, responses={200: shows}, parameters=[IF_MATCH] if versioned else [])


def acts(takes: Takes, shows: Any, *, versioned: bool = False, status: int = 200) -> Callable[[F], F]:
    """An action on a record."""
    return extend_schema(request=takes, responses={status: shows}, parameters=[IF_MATCH_MAY] if versioned else [])


def dimensions_schema() -> dict[str, Any]:
    """Dimensions of a component: one schema a kind, told apart by the literal `kind`."""
    names = {kind.code: dimensions_name(kind.code) for kind in registry.ALL}
    return {
        "oneOf": [{"$ref": f"#/components/schemas/{name}"} for name in names.values()],
        "discriminator": {
            "propertyName": "kind",
            "mapping": {code: f"#/components/schemas/{name}" for code, name in names.items()},
        },
    }


def dimensions_name(code: str) -> str:
    """Name of the component schema of a kind's dimensions."""
    return "".join(part.capitalize() for part in code.split("_")) + "Dimensions"


def numbers_schema() -> dict[str, Any]:
    """Numbers of a rule: one schema a basis."""
    return {"anyOf": [{"$ref": f"#/components/schemas/{_numbers_name(basis)}"} for basis in MODELS]}


def _numbers_name(basis: str) -> str:
    return f"{basis.capitalize()}Numbers"


def finish(result: dict[str, Any], generator: Any, request: Any, public: bool) -> dict[str, Any]:
    """Add the schemas that come from declarations, and the problem document every operation may answer with."""
    schemas = result["components"].setdefault("schemas", {})
    schemas["Problem"] = PROBLEM
    for kind in registry.ALL:
        schemas[dimensions_name(kind.code)] = json_schema(kind)
    for basis, model in MODELS.items():
        schemas[_numbers_name(basis)] = model.model_json_schema()
    schemas["Settings"] = _without_defaults(Company.model_json_schema(), required=True)
    schemas["SettingsChange"] = _without_defaults(Company.model_json_schema(), required=False)
    _add_with_parts(schemas, "Closeout", closeout_schema())
    answer = {
        "description": "A problem, as RFC 9457 has it.",
        "content": {"application/problem+json": {"schema": PROBLEM_REF}},
    }
    for name, schema in schemas.items():
        if name.endswith("Request"):
            schema["additionalProperties"] = False
    for path in result["paths"].values():
        for operation in path.values():
            operation["responses"]["default"] = answer
            if any(parameter["name"] == "X-Sha256" for parameter in operation.get("parameters", ())):
                operation["requestBody"]["required"] = True
    return result


def _without_defaults(schema: dict[str, Any], *, required: bool) -> dict[str, Any]:
    properties = {
        name: {key: value for key, value in item.items() if key not in ("default", "title")}
        for name, item in schema["properties"].items()
    }
    for item in properties.values():
        if item.get("format") == "time":  # in JSON Schema that has an offset, which a time of day has not
            del item["format"]
            item["pattern"] = LOCAL_TIME
    kept = {"type": "object", "properties": properties, "additionalProperties": False, "title": schema["title"]}
    return {**kept, "required": list(properties)} if required else kept


def _add_with_parts(schemas: dict[str, Any], name: str, schema: dict[str, Any]) -> None:
    """A pydantic schema with its parts as components of their own."""
    parts = schema.pop("$defs", {})
    for part, inner in parts.items():
        schemas[f"{name}{part}"] = _renamed(inner, name)
    schemas[name] = _renamed(schema, name)


def _renamed(item: Any, name: str) -> Any:
    if isinstance(item, dict):
        return {
            key: f"#/components/schemas/{name}{value.rsplit('/', 1)[-1]}" if key == "$ref" else _renamed(value, name)
            for key, value in item.items()
        }
    return [_renamed(value, name) for value in item] if isinstance(item, list) else item


class NounSchema(AutoSchema):
    """Groups operations by noun; the first sentence of what an operation does stands beside its address."""

    def get_summary(self) -> str | None:
        told = (self.get_description() or "").split("\n\n")[0]
        first: str = " ".join(told.split()).split(". ")[0].split(": ")[0].rstrip(".")
        return first[:120] or None

    def get_tags(self) -> list[str]:
        return [self.path.removeprefix("/api/v1/").split("/")[0]]


BYTES = OpenApiTypes.BINARY


class _TokenScheme(OpenApiAuthenticationExtension):
    target_class = "api.auth.TokenAuthentication"
    name = "token"

    def get_security_definition(self, auto_schema: Any) -> dict[str, Any]:
        return {"type": "http", "scheme": "bearer", "description": "A token made under /tokens/ or on the office page."}


class _SessionScheme(OpenApiAuthenticationExtension):
    target_class = "api.auth.SessionAuthentication"
    name = "session"

    def get_security_definition(self, auto_schema: Any) -> dict[str, Any]:
        return {"type": "apiKey", "in": "cookie", "name": "sessionid"}
