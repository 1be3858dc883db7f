"""Forms of components: put in, changed, replaced, taken out."""

from dataclasses import replace
from typing import Any
from uuid import UUID

from django.http import HttpRequest

from core.act import Act
from jobs import change_component
from jobs.kinds import registry
from jobs.kinds.dimensions import Known, read_dimensions
from jobs.models import Component, Property
from jobs.read import visible
from jobs.replace_component import retire_component
from maintenance.part_replaced import replace_part
from pages.acting import found
from pages.forms.dimensions import dimension_lines, dimensions_of
from pages.forms.fields import Field, cleaned, sure
from pages.forms.points import points_of, points_shown
from pages.office.register.choices import free_tag, others
from pages.office.register.edit_places import at_property
from pages.office.register.editing import About, Form, client_uid, prop_of, revision, revision_of, uid_of


def _component(request: HttpRequest, act: Act, uid: UUID | None) -> About:
    row = found(visible.components(act).select_related("property", "system", "sits_in", "part_of"), uid=uid)
    return About(row.property, row, row.kind)


def _new_component(request: HttpRequest, act: Act, uid: UUID | None) -> About:
    about = at_property(request, act, uid)
    code = request.GET.get("kind", "")
    return replace(about, choice=code if code in registry.BY_CODE else "catch_basin")


def _known(row: Component | None) -> Known:
    """The sizes as stored, under the names the kind has now."""
    if row is None:
        return Known({}, {})
    return read_dimensions(registry.get(row.kind), row.dimensions, row.certainty, version=row.kind_version)


def _belongs(about: About) -> list[Field]:
    """What the part belongs to; a part that was taken out keeps it as it was."""
    row: Component | None = about.record
    kind = registry.get(about.choice)
    if row is not None and row.retired_on is not None:
        return []
    systems = [("", "none"), *((str(s.uid), s.name) for s in prop_of(about).systems.order_by("name", "id"))]
    uid = lambda name: str(getattr(row, name).uid) if row and getattr(row, name) else ""  # noqa: E731
    fields = [Field("system", "System", "choice", uid("system"), choices=systems)]
    if not kind.is_part:
        told = f"Such as {kind.tag_prefix}-1; unique at this property."
        tag = row.tag if row else free_tag(prop_of(about), kind.tag_prefix)
        fields.append(Field("tag", "Tag", value=tag, help=told))
    for name, label, allowed in (("sits_in", "Sits in", kind.sits_in), ("part_of", "Is a part of", kind.part_of)):
        if allowed:
            choices = others(about, allowed, present=getattr(row, name, None))
            fields.append(Field(name, label, "choice", uid(name), choices=choices))
    return fields


def _component_fields(act: Act, about: About) -> list[Field]:
    row: Component | None = about.record
    kind = registry.get(about.choice)
    known = _known(row)
    value = lambda name: str("" if getattr(row, name) is None else getattr(row, name)) if row else ""  # noqa: E731
    where = [
        Field("place", "Course or place on the plan", value=points_shown(row.place) if row else "", unit="ft",
              help="East and north of the corner, a point each: 0 0; 12.5 3", group="On the plan"),
        Field("place_certainty", "How the place is known", "choice", value("place_certainty"), group="On the plan",
              choices=[("", "unknown"), ("measured", "measured"), ("assumed", "assumed")]),
        Field("cover_in", "Soil over it", "number", value("cover_in"), unit="in", help="0 to 240.",
              group="On the plan"),
        Field("canopy", "Trees over it", "choice", value("canopy"), group="On the plan",
              choices=[("", "as the property says"), *Property.Canopy.choices]),
    ]  # fmt: skip
    return [
        *_belongs(about),
        Field("name", "Name", value=value("name"), help="Such as: 1/2 hp effluent pump. No brand needed."),
        Field("installed_on", "Installed", "date", value("installed_on"), help="Empty: unknown."),
        *dimension_lines(kind, known.values, known.certainty),
        *where,
        *([Field("slope_reason", "Why a slope below the least is right", value=value("slope_reason"),
                 help="Only where it is.")] if kind.needs_fall else []),
        Field("note", "Note", "long", value("note")),
        revision(row) if row else client_uid(),
    ]  # fmt: skip


def _component_values(request: HttpRequest, act: Act, about: About) -> dict[str, Any]:
    values = cleaned(_component_fields(act, about), request.POST)
    systems = visible.systems(act).filter(property=prop_of(about))
    parts = visible.components(act).filter(property=prop_of(about))
    if "system" in values:
        values["system"] = found(systems, uid=values["system"]) if values["system"] else None
    for name in ("sits_in", "part_of"):
        if name in values:
            values[name] = found(parts, uid=values[name]) if values[name] else None
    values["place"] = points_of("place", values["place"])
    stored = _known(about.record).values
    values["dimensions"], values["certainty"] = dimensions_of(registry.get(about.choice), request.POST, stored)
    return values


def _add_component(request: HttpRequest, act: Act, about: About) -> tuple[Property, str]:
    values = _component_values(request, act, about)
    made = change_component.add_component(
        act=act, property=prop_of(about), kind=about.choice, uid=uid_of(request), **values
    )
    return prop_of(about), f"{made.tag or registry.get(made.kind).name} is recorded. Say next where its water goes."


def _change_component(request: HttpRequest, act: Act, about: About) -> tuple[Property, str]:
    values = _component_values(request, act, about)
    change_component.change_component(act=act, component=about.record, revision=revision_of(request), **values)
    return prop_of(about), "The part is changed; its dates are being computed again."


def _because() -> Field:
    choices = [("", "not said"), *Component.End.choices]
    told = "Only a failure counts against the life of its kind."
    return Field("because", "What kind of end it was", "choice", "", choices=choices, help=told)


def _replace_fields(act: Act, about: About) -> list[Field]:
    kind = registry.get(about.choice)
    return [
        Field("on", "Day", "date", visible.today(act).isoformat(), required=True),
        Field("reason", "Why", required=True),
        _because(),
        Field("name", "Name of the new one"),
        *dimension_lines(kind, _known(about.record).values, {}),
        client_uid(),
    ]


def _replace(request: HttpRequest, act: Act, about: About) -> tuple[Property, str]:
    values = cleaned(_replace_fields(act, about), request.POST)
    dims, sure = dimensions_of(registry.get(about.choice), request.POST, _known(about.record).values)
    replace_part(act=act, component=about.record, dimensions=dims, certainty=sure, uid=uid_of(request), **values)
    return prop_of(about), "The old part is retired and the new one has its tag, connections and open tasks."


def _retire_fields(act: Act, about: About) -> list[Field]:
    return [
        Field("on", "Day", "date", visible.today(act).isoformat(), required=True),
        Field("reason", "Why", required=True),
        _because(),
        Field("sure", "Yes, it is taken out and nothing takes its place", "check", required=True),
    ]


def _retire(request: HttpRequest, act: Act, about: About) -> tuple[Property, str]:
    values = cleaned(_retire_fields(act, about), request.POST)
    sure(values, "its connections end. Its readings and photos stay.")
    retire_component(act=act, component=about.record, **values)
    return prop_of(about), "The part is taken out."


FORMS = {
    "component_add": Form("Add a part", _new_component, _component_fields, _add_component),
    "component_change": Form("Change the part", _component, _component_fields, _change_component),
    "component_replace": Form(
        "Replace the part", _component, _replace_fields, _replace, "Replace",
        "Unplug and lock out before reaching into a sump; electrical work by licensed people.",
    ),
    "component_retire": Form("Take the part out", _component, _retire_fields, _retire, "Take out"),
}  # fmt: skip
