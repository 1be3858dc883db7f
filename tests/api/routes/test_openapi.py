"""The description of the API: OpenAPI 3.1 without a warning, as kept, true of what is served, and a page to read it."""

import json
import re
from io import StringIO

import jsonschema
import pytest
from django.core.management import call_command
from drf_spectacular.validation import validate_schema

from jobs.kinds import registry
from tests.api.routes import openapi_snapshot
from tests.api.routes.wired import every_route
from tests.factories import channel_to_sump


@pytest.fixture(scope="module")
def described() -> dict:
    return json.loads(openapi_snapshot.text())


def test_it_is_generated_without_a_warning_or_an_error():
    """The generator's own command, told to fail on either."""
    told = StringIO()
    call_command("spectacular", validate=True, fail_on_warn=True, file=None, stdout=told)
    assert "openapi: 3.1.0" in told.getvalue()


def test_it_is_openapi_3_1(described):
    """Against the published schema of the OpenAPI Initiative, as the generator's package carries it."""
    assert described["openapi"] == "3.1.0"
    validate_schema(described)


def test_it_is_the_kept_one():
    assert openapi_snapshot.text() == openapi_snapshot.KEPT.read_text(encoding="utf-8"), (
        "the API changed: read the difference, then run python -m tests.api.routes.openapi_snapshot"
    )


def test_every_route_and_method_is_described(described):
    operations = {(path, method.upper()) for path, item in described["paths"].items() for method in item}
    undescribed = {"api:schema", "api:docs", "api:not-found"}
    served = sum(len(route.methods) for route in every_route() if route.name not in undescribed)
    assert len(operations) == served


def test_operation_ids_are_unique_and_every_operation_says_what_it_does(described):
    operations = [item for path in described["paths"].values() for item in path.values()]
    ids = [operation["operationId"] for operation in operations]
    assert len(ids) == len(set(ids))
    assert not [operation["operationId"] for operation in operations if not operation.get("description")]


def test_every_operation_may_answer_with_a_problem_document(described):
    for path in described["paths"].values():
        for operation in path.values():
            assert operation["responses"]["default"]["content"].keys() == {"application/problem+json"}


def _references(node) -> set[str]:
    if isinstance(node, dict):
        own = {node["$ref"]} if isinstance(node.get("$ref"), str) else set()
        return own.union(*(_references(value) for value in node.values())) if node else own
    return set().union(*(_references(item) for item in node)) if isinstance(node, list) else set()


def test_every_reference_leads_somewhere(described):
    names = {f"#/components/schemas/{name}" for name in described["components"]["schemas"]}
    assert _references(described) <= names


def test_dimensions_are_told_apart_by_kind(described):
    """One schema a kind, each repeating its kind as a literal, with additional names refused."""
    schemas = described["components"]["schemas"]
    asked = schemas["ComponentGivenRequest"]["properties"]["dimensions"]
    text = json.dumps(asked)
    assert '"discriminator"' in text
    assert '"propertyName": "kind"' in text
    for kind in registry.ALL:
        name = "".join(part.capitalize() for part in kind.code.split("_")) + "Dimensions"
        assert schemas[name]["properties"]["kind"]["const"] == kind.code
        assert schemas[name]["additionalProperties"] is False
        assert f"#/components/schemas/{name}" in text


@pytest.mark.django_db
def test_what_is_served_is_as_described(cast, office, described):
    """Each list, for the office, against the schema its own operation states."""
    channel_to_sump(cast.property)
    checked = 0
    for path, item in described["paths"].items():
        if "get" not in item or "{" in path or path.endswith("/search/"):
            continue
        answer = office.get(path)
        assert answer.status_code == 200, path
        (media,) = item["get"]["responses"]["200"]["content"].values()
        jsonschema.Draft202012Validator(
            {**media["schema"], "components": described["components"]},
            format_checker=jsonschema.Draft202012Validator.FORMAT_CHECKER,
        ).validate(answer.json())
        checked += 1
    assert checked > 25


@pytest.mark.django_db
def test_the_description_and_its_page_are_open_and_load_nothing_from_elsewhere(nobody):
    served = nobody.get("/schema/", accept="application/json")
    assert served.status_code == 200
    assert served.json()["openapi"] == "3.1.0"
    page = nobody.get("/docs/")
    assert page.status_code == 200
    policy = page["Content-Security-Policy"]
    text = page.content.decode()
    sources = re.findall(r"""(?:src|href)=["']([^"']+)""", text)
    assert sources
    assert not [source for source in sources if source.startswith(("http:", "https:", "//"))], sources
    assert "default-src 'self'" in policy
    assert "http" not in policy.replace("'self'", "")
