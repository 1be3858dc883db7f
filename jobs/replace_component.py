"""Takes components out, and puts a successor in the place of one: nothing is overwritten."""

from collections.abc import Mapping
from datetime import date, timedelta
from typing import Any
from uuid import UUID

from django.db import transaction
from django.db.models import F, Q

from core import clock
from core.act import Act
from core.history import record_change
from core.problem import Conflict
from jobs import field_checks as checks
from jobs.change_component import create_component, known_dimensions
from jobs.component_versions import record_version
from jobs.edits import plain, raise_revision, remove
from jobs.kinds import registry
from jobs.kinds.dimensions import read_dimensions
from jobs.models import Component, Connection, DrainageArea

KEPT = ("kind", "system", "tag", "sits_in", "part_of", "place", "place_certainty", "cover_in", "canopy")
"""What a successor takes over as it is."""

END = checks.one_of(Component.End.values, empty=True)
"""What kind of end a part had; empty where nobody said."""


def replace_component(
    *,
    act: Act,
    component: Component,
    on: date,
    reason: str,
    because: str = "",
    dimensions: Mapping[str, Any] | None = None,
    certainty: Mapping[str, str] | None = None,
    name: str = "",
    note: str = "",
    uid: UUID | None = None,
) -> Component:
    """Retire `component` on a day and put a new part of the same kind in its place; returns the new one.

    `because`: one of `Component.End`, "" where nobody said; a failure counts against the life of its kind.

    The successor takes tag, connections, drainage areas and held parts; readings and photos stay with the old part.
    Without `dimensions` the old ones are taken over as assumed; {} says they are unknown. The same uid again returns
    the same successor. Raises BadInput, Conflict (taken out already).

    What layers above keep about a part (other numbers for its rules, tasks still open) they move themselves, in the
    same transaction.
    """
    why = _checked(act, component, on, reason, because)
    text = checks.cleaned("component", {"name": checks.line(120), "note": checks.note()}, {"name": name, "note": note})
    kind = registry.get(component.kind)
    if dimensions is None:
        old = read_dimensions(kind, component.dimensions, version=component.kind_version).values
        known = known_dimensions(kind, old, certainty or {})
    else:
        known = known_dimensions(kind, dimensions, certainty or {})
    with transaction.atomic():
        # Held until commit: the same request twice at once, or an edit of the tag meanwhile, waits here.
        present = Component.objects.select_for_update().get(pk=component.pk)
        if uid is not None and present.successor is not None and present.successor.uid == uid:
            return present.successor
        present = _retire(act=act, component=present, on=on, why=why, because=because)
        values = {field: getattr(present, field) for field in KEPT}
        values |= {**text, "installed_on": on, "dimensions": known.values, "certainty": known.certainty}
        made, new = create_component(
            act=act, property=present.property, values=values, uid=uid, note=f"in place of {present.uid}"
        )
        if not new:
            raise Conflict(f"The id {uid} belongs to another component already.", code="uid_taken")
        Component.objects.filter(pk=present.pk).update(successor=made)
        _move_connections(act=act, old=present, new=made)
        _move_areas(act=act, old=present, new=made)
        _move_held(act=act, old=present, new=made)
        raise_revision(present.property_id)
    return made


def retire_component(*, act: Act, component: Component, on: date, reason: str, because: str = "") -> Component:
    """Say that a part was taken out with nothing in its place. Its sub-parts go with it, its connections end.

    Surfaces that drained to it stay on it and are named by the checks until someone says where their water goes.
    Raises BadInput, Conflict (taken out already).
    """
    why = _checked(act, component, on, reason, because)
    with transaction.atomic():
        present = _retire(act=act, component=component, on=on, why=why, because=because)
        for part in Component.objects.filter(part_of=present, retired_on=None):
            _retire(act=act, component=part, on=on, why=f"with {present}"[:200])
        ends = Q(from_component=present) | Q(to_component=present)
        for link in Connection.objects.filter(ends).select_related("from_component", "to_component"):
            kept = {name: getattr(link, name) for name in ("from_component", "to_component", "kind", "certainty")}
            remove(link, act=act, noun="connection", values=kept, at_property=present.property)
        raise_revision(present.property_id)
    return present


def _checked(act: Act, component: Component, on: date, reason: str, because: str) -> str:
    """The reason as stored. The day lies between the install and tomorrow (a phone's day may be ahead)."""
    latest = clock.local_date(act.at, component.property.zone) + timedelta(days=1)
    table = {
        "on": checks.day(required=True, latest=latest),
        "reason": checks.line(200, required=True),
        "because": END,
    }
    values = checks.cleaned("component", table, {"on": on, "reason": reason, "because": because})
    if component.installed_on is not None and on < component.installed_on:
        words = f"on is {on}: give a day from {component.installed_on} on, when {component} was put in."
        checks.refuse_field("on", words, on)
    return values["reason"]


def _retire(*, act: Act, component: Component, on: date, why: str, because: str = "") -> Component:
    """Retire one part, once. Raises Conflict when it was taken out before, naming its successor."""
    taken_out = Component.objects.filter(pk=component.pk, retired_on=None).update(
        retired_on=on, retired_reason=why, retired_because=because, revision=F("revision") + 1
    )
    present = Component.objects.select_related("property", "system", "sits_in", "part_of", "successor").get(
        pk=component.pk
    )
    if not taken_out:
        now = f"; {present.successor} is in its place" if present.successor else ""
        raise Conflict(f"{present} was taken out on {present.retired_on} already{now}.", code="retired_already")
    record_change(
        act=act,
        noun="component",
        uid=present.uid,
        action="retire",
        before={"retired_on": None},
        after={"retired_on": on.isoformat(), "retired_reason": why, "retired_because": because},
        property_uid=present.property.uid,
    )
    record_version(present, act.at)
    return present


def _moved(act: Act, noun: str, record: Any, field: str, old: Component, new: Component) -> None:
    record_change(
        act=act,
        noun=noun,
        uid=record.uid,
        action="change",
        before={field: plain(old)},
        after={field: plain(new)},
        property_uid=new.property.uid,
        note="moved to the part put in its place",
    )


def _move_connections(*, act: Act, old: Component, new: Component) -> None:
    for field in ("from_component", "to_component"):
        for link in Connection.objects.filter(**{field: old}):
            _moved(act, "connection", link, field, old, new)
        Connection.objects.filter(**{field: old}).update(**{field: new})


def _move_areas(*, act: Act, old: Component, new: Component) -> None:
    for area in DrainageArea.objects.filter(component=old):
        _moved(act, "drainage_area", area, "component", old, new)
    DrainageArea.objects.filter(component=old).update(component=new)


def _move_held(*, act: Act, old: Component, new: Component) -> None:
    """What sits in the old part or belongs to it now does so with the new one."""
    for field in ("sits_in", "part_of"):
        for part in Component.objects.filter(**{field: old}, retired_on=None):
            Component.objects.filter(pk=part.pk).update(**{field: new}, revision=F("revision") + 1)
            _moved(act, "component", part, field, old, new)
            held = Component.objects.select_related("property", "system", "sits_in", "part_of").get(pk=part.pk)
            record_version(held, act.at)
