"""No one sees another's property: ids in addresses, in bodies and in filters, for every route, method and person."""

import json
from types import SimpleNamespace
from typing import Any
from urllib.parse import urlencode

import pytest
from django.db.models.constants import LOOKUP_SEP

from api import fields, filters, strict
from api.roles import TABLE
from core.act import Act
from core.models import History, User
from jobs.models import Property
from tests.api.routes.people import caller_of
from tests.api.routes.things import COMPANYS, thing
from tests.api.routes.wired import Route, every_route

ROUTES = every_route()
BY_UID = [route for route in ROUTES if "uid" in route.names]
LISTS = [route for route in ROUTES if not route.names and route.noun and TABLE.allows("crew", route.name, "GET")]
OWN = ("api:tokens-detail", "api:tokens-list")
"""One's own alone, whatever the role."""
SHOWN = [route for route in BY_UID if "GET" in route.methods and route.name not in OWN]
CAST = {"crew": "crew", "other_crew": "crew", "homeowner": "nobody", "nobody": "nobody"}
SECRETS = ("Far Meadow", "Bram Nettle")


def test_every_route_with_an_id_belongs_to_a_noun_with_a_selector():
    """A route by id that does not start from a selector could show anything."""
    assert not [route.name for route in BY_UID if route.noun is None]
    assert len(BY_UID) > 30


@pytest.mark.django_db
@pytest.mark.parametrize("who", CAST)
@pytest.mark.parametrize("route", BY_UID, ids=lambda route: route.name)
def test_a_strangers_record_is_not_there(cast, route: Route, who: str):
    """404 where the role may ask at all, 403 where it may not, 401 without a token; and nothing of it is said."""
    model = route.noun.model
    record = thing(model, cast.strangers_property)
    entries = History.objects.count()
    for method in route.methods:
        answer = caller_of(cast, who).send(method, route.address(uid=record.uid), if_match="*", x_sha256="0" * 64)
        if CAST[who] == "nobody":
            assert answer.status_code == 401, (method, answer.content)
        elif not TABLE.allows("crew", route.name, method):
            assert answer.status_code == 403, (method, answer.content)
        elif model not in COMPANYS or model is User:
            assert answer.status_code in _hidden(method, route), (method, answer.status_code, answer.content)
        assert not any(secret in answer.content.decode() for secret in SECRETS), method
    assert History.objects.count() == entries
    assert type(record)._default_manager.filter(pk=record.pk).exists()


def _hidden(method: str, route: Route) -> tuple[int, ...]:
    """A closeout is sent to an id that need not exist yet; what it says is read first (400: no digest, no JSON)."""
    return (400, 422) if method in ("PUT", "POST") and route.name == "api:closeouts-detail" else (404,)


@pytest.mark.django_db
@pytest.mark.parametrize("route", SHOWN, ids=lambda route: route.name)
def test_the_same_record_is_there_for_the_office(cast, route: Route):
    """The control: without it a test that asks for a wrong address would pass too."""
    record = thing(route.noun.model, cast.strangers_property)
    answer = caller_of(cast, "office").get(route.address(uid=record.uid))
    assert answer.status_code == 200 or (route.name, answer.status_code) in NO_BYTES, answer.content


NO_BYTES = {("api:photos-file", 404)}
"""A row made without a file on disk."""


@pytest.mark.django_db
@pytest.mark.parametrize("route", LISTS, ids=lambda route: route.name)
def test_lists_leave_a_strangers_records_out_and_filters_do_not_help(cast, route: Route):
    """Without a filter and with each filter by id that could name a stranger's record."""
    model, also = route.noun.model, ASKED.get(route.name, {})
    record, crew = thing(model, cast.strangers_property), caller_of(cast, "crew")
    office = caller_of(cast, "office")
    told = office.get(f"{route.address()}?{urlencode(also)}").content.decode()
    whole = getattr(record, "gauge", None)
    names = [str(row.uid) for row in (record, whole, cast.strangers_property) if hasattr(row, "uid")]
    assert any(name in told for name in names) != (route.name in OWN), "the control: the office is shown it"
    if model in COMPANYS - {User}:
        return
    hidden = crew.get(f"{route.address()}?{urlencode(also)}")
    assert hidden.status_code == 200
    assert not any(name in hidden.content.decode() for name in names)
    for name, uid in _foreign_ids(route, record, cast.strangers_property):
        answer = crew.get(f"{route.address()}?{urlencode({**also, name: str(uid)})}")
        assert answer.json()["results"] == [], name


ASKED = {"api:search-list": {"q": "meadow"}}


def _foreign_ids(route: Route, record: Any, far: Property) -> list[tuple[str, Any]]:
    """(filter by id, an id of the stranger's it could be asked with)."""
    filterset = getattr(route.view, "filterset_class", None)
    found = []
    for name, item in (filterset.base_filters if filterset else {}).items():
        if not isinstance(item, filters.Uid):
            continue
        steps, model = item.field_name.split(LOOKUP_SEP), route.noun.model
        for step in steps[:-1]:
            model = model._meta.get_field(step).related_model
        if len(steps) > 1 and model not in COMPANYS:
            found.append((name, thing(model, far).uid))
        elif len(steps) == 1 and getattr(record, item.field_name, None):
            found.append((name, getattr(record, item.field_name)))
    return found


def _bodies(base: type = strict.Strict) -> list[type[strict.Strict]]:
    """Every shape of a body, with those that shapes are made of."""
    return [shape for sub in base.__subclasses__() for shape in (sub, *_bodies(sub))]


def _references() -> list[tuple[str, Any]]:
    return [
        (f"{shape.__name__}.{name}", field)
        for shape in dict.fromkeys(_bodies())
        if not issubclass(shape, strict.Shown)
        for name, field in shape().fields.items()
        if isinstance(field, fields.Ref | fields.Refs) and not field.read_only
    ]


REFERENCES = _references()


def _context(act: Act) -> dict[str, Any]:
    return {"request": SimpleNamespace(_request=SimpleNamespace(siltline_act=act))}


@pytest.mark.django_db
@pytest.mark.parametrize(("name", "field"), REFERENCES, ids=[name for name, _ in REFERENCES])
def test_a_body_cannot_name_what_its_sender_may_not_see(cast, name: str, field: Any):
    """Every field of every body that takes an id: hidden and never made are refused alike; the office may name it."""
    model = field.visible_to(cast.act("office")).model
    record = thing(model, cast.strangers_property)
    several = isinstance(field, fields.Refs)
    office = type(field)(field.visible_to)
    given = [str(record.uid)] if several else str(record.uid)
    office._context = _context(cast.act("office"))
    assert office.run_validation(given) in (record, [record])
    if model in COMPANYS - {User}:
        return
    crew = type(field)(field.visible_to)
    crew._context = _context(cast.act("crew"))
    never = "00000000-0000-4000-8000-000000000001"
    with pytest.raises(fields.serializers.ValidationError) as hidden:
        crew.run_validation(given)
    with pytest.raises(fields.serializers.ValidationError) as missing:
        crew.run_validation([never] if several else never)
    assert str(hidden.value.detail).replace(str(record.uid), never) == str(missing.value.detail)


def test_there_are_bodies_with_ids():
    assert len(REFERENCES) > 15


@pytest.mark.django_db
def test_the_crew_cannot_write_at_a_strangers_property(cast, crew):
    """What the crew may send, sent about a property it may not see."""
    far = cast.strangers_property
    hazard = crew.post("/hazards/", {"property": str(far.uid), "kind": "dog"})
    assert hazard.status_code == 422, hazard.content
    assert json.loads(hazard.content)["errors"][0]["field"] == "property"
    photo = crew.client.post(
        f"/api/v1/photos/?property={far.uid}",
        b"\xff\xd8",
        content_type="image/jpeg",
        headers={**crew.headers, "x-sha256": "0" * 64},
    )
    assert photo.status_code == 422, photo.content
    assert not far.hazards.exists()
    assert not far.photos.exists()
