"""Forms of systems, starting layouts, components, connections, drainage areas and photos."""

from dataclasses import replace
from typing import Any, Final
from uuid import UUID

from django.http import Http404, HttpRequest

from core.act import Act
from core.limits import FILE_BYTES
from core.problem import BadInput
from jobs import change_component, connect, drainage_areas, photos, register
from jobs.decide import layouts
from jobs.kinds import registry
from jobs.models import Component, Connection, DrainageArea, Photo, Property, System
from jobs.read import visible
from jobs.replace_component import retire_component
from jobs.starting_layouts import apply_layout
from maintenance.part_replaced import replace_part
from pages.acting import found
from pages.forms.fields import Field, cleaned, dimension_lines, dimensions_of
from pages.office.register.edit_places import at_property
from pages.office.register.editing import About, Form, client_uid, revision, revision_of, uid_of

LIVE: Final = {"retired_on": None}


def _prop(about: About) -> Property:
    if about.property is None:
        raise Http404
    return about.property


def _system(request: HttpRequest, act: Act, uid: UUID | None) -> About:
    row = found(visible.systems(act).select_related("property"), uid=uid)
    return About(row.property, row)


def _system_fields(act: Act, about: About) -> list[Field]:
    row: System | None = about.record
    day = lambda name: str(getattr(row, name) or "") if row else ""  # noqa: E731
    years = f"{row.target_return_years:g}" if row else "10"
    fields = [
        Field("name", "Name", value=row.name if row else "", required=True, help="Such as: Patio."),
        Field("target_return_years", "Target storm, return period", "number", years, unit="years",
              help="A 10-year storm has a 1 in 10 chance each year.", required=True),
        Field("installed_on", "Installed", "date", day("installed_on")),
        Field("ours", "We put it in", "check", "1" if row is None or row.ours else ""),
        Field("warranty_until", "Warranty until", "date", day("warranty_until")),
        Field("note", "Note", "long", row.note if row else ""),
    ]  # fmt: skip
    return [*fields, revision(row)] if row else [*fields, client_uid()]


def _add_system(request: HttpRequest, act: Act, about: About) -> tuple[Property, str]:
    values = cleaned(_system_fields(act, about), request.POST)
    register.create_system(act=act, property=_prop(about), uid=uid_of(request), **values)
    return _prop(about), "The system is recorded. Add its parts, or begin from a starting layout."


def _change_system(request: HttpRequest, act: Act, about: About) -> tuple[Property, str]:
    values = cleaned(_system_fields(act, about), request.POST)
    register.change_system(act=act, system=about.record, revision=revision_of(request), **values)
    return _prop(about), "The system is changed."


def _layout(request: HttpRequest, act: Act, uid: UUID | None) -> About:
    code = request.GET.get("layout", "")
    return replace(at_property(request, act, uid), choice=code if code in layouts.BY_CODE else layouts.ALL[0].code)


def _layout_fields(act: Act, about: About) -> list[Field]:
    layout = layouts.get(about.choice)
    asks = [
        Field(a.name, a.label, "number", f"{a.usual:g}", help=f"{a.help} {a.low:g} to {a.high:g}.".strip(), unit=a.unit,
              required=True)
        for a in layout.asks
    ]  # fmt: skip
    name = Field("system_name", "Name of the system", value=layout.name.capitalize()[:80], required=True)
    return [name, *asks, client_uid()]


def _add_layout(request: HttpRequest, act: Act, about: About) -> tuple[Property, str]:
    values = cleaned(_layout_fields(act, about), request.POST)
    name = values.pop("system_name")
    apply_layout(
        act=act, property=_prop(about), layout=about.choice, numbers=values, system_name=name, uid=uid_of(request)
    )
    return _prop(about), "The starting layout is in the register. Now correct it by what is really there."


def _component(request: HttpRequest, act: Act, uid: UUID | None) -> About:
    row = found(visible.components(act).select_related("property", "system", "sits_in", "part_of"), uid=uid)
    return About(row.property, row, row.kind)


def _new_component(request: HttpRequest, act: Act, uid: UUID | None) -> About:
    about = at_property(request, act, uid)
    code = request.GET.get("kind", "")
    return replace(about, choice=code if code in registry.BY_CODE else "catch_basin")


def _others(about: About, kinds: Any = None) -> list[tuple[str, str]]:
    rows = _prop(about).components.filter(**LIVE).exclude(tag="").order_by("tag_key")
    if kinds:
        rows = rows.filter(kind__in=kinds)
    own = getattr(about.record, "pk", None)
    known = [(str(row.uid), f"{row.tag}, {registry.get(row.kind).name}") for row in rows if row.pk != own]
    return [("", "none"), *known]


def _component_fields(act: Act, about: About) -> list[Field]:
    row: Component | None = about.record
    kind = registry.get(about.choice)
    systems = [("", "none"), *((str(s.uid), s.name) for s in _prop(about).systems.order_by("name"))]
    uid = lambda name: str(getattr(row, name).uid) if row and getattr(row, name) else ""  # noqa: E731
    fields = [
        Field("system", "System", "choice", uid("system"), choices=systems),
        Field(
            "tag", "Tag", value=row.tag if row else "", help=f"Such as {kind.tag_prefix}-1; unique at this property."
        ),
        Field("name", "Name", value=row.name if row else "", help="Such as: 1/2 hp effluent pump. No brand needed."),
        Field("installed_on", "Installed", "date", str(row.installed_on or "") if row else "", help="Empty: unknown."),
    ]
    if kind.sits_in:
        fields.append(Field("sits_in", "Sits in", "choice", uid("sits_in"), choices=_others(about, kind.sits_in)))
    if kind.part_of:
        fields.append(Field("part_of", "Is a part of", "choice", uid("part_of"), choices=_others(about, kind.part_of)))
    sizes = dimension_lines(kind, row.dimensions if row else {}, row.certainty if row else {})
    note = Field("note", "Note", "long", row.note if row else "")
    return [*fields, *sizes, note, revision(row) if row else client_uid()]


def _component_values(request: HttpRequest, act: Act, about: About) -> dict[str, Any]:
    row: Component | None = about.record
    values = cleaned(_component_fields(act, about), request.POST)
    for name, rows in (
        ("system", visible.systems(act).filter(property=_prop(about))),
        ("sits_in", visible.components(act).filter(property=_prop(about))),
        ("part_of", visible.components(act).filter(property=_prop(about))),
    ):
        if name in values:
            values[name] = found(rows, uid=values[name]) if values[name] else None
    stored = row.dimensions if row else {}
    values["dimensions"], values["certainty"] = dimensions_of(registry.get(about.choice), request.POST, stored)
    return values


def _add_component(request: HttpRequest, act: Act, about: About) -> tuple[Property, str]:
    values = _component_values(request, act, about)
    made = change_component.add_component(
        act=act, property=_prop(about), kind=about.choice, uid=uid_of(request), **values
    )
    return _prop(about), f"{made.tag or registry.get(made.kind).name} is recorded. Say next where its water goes."


def _change_component(request: HttpRequest, act: Act, about: About) -> tuple[Property, str]:
    values = _component_values(request, act, about)
    change_component.change_component(act=act, component=about.record, revision=revision_of(request), **values)
    return _prop(about), "The part is changed; its dates are being computed again."


def _replace_fields(act: Act, about: About) -> list[Field]:
    kind = registry.get(about.choice)
    return [
        Field("on", "Day", "date", visible.today(act).isoformat(), required=True),
        Field("reason", "Why", required=True),
        Field("name", "Name of the new one"),
        *dimension_lines(kind, about.record.dimensions, {}),
        client_uid(),
    ]


def _replace(request: HttpRequest, act: Act, about: About) -> tuple[Property, str]:
    values = cleaned(_replace_fields(act, about), request.POST)
    dims, sure = dimensions_of(registry.get(about.choice), request.POST, about.record.dimensions)
    replace_part(act=act, component=about.record, dimensions=dims, certainty=sure, uid=uid_of(request), **values)
    return _prop(about), "The old part is retired and the new one has its tag, connections and open tasks."


def _retire_fields(act: Act, about: About) -> list[Field]:
    return [
        Field("on", "Day", "date", visible.today(act).isoformat(), required=True),
        Field("reason", "Why", required=True),
        Field("sure", "Yes, it is taken out and nothing takes its place", "check", required=True),
    ]


def _retire(request: HttpRequest, act: Act, about: About) -> tuple[Property, str]:
    values = cleaned(_retire_fields(act, about), request.POST)
    if not values.pop("sure"):
        raise BadInput("Tick that you are sure: its connections end. Its readings and photos stay.")
    retire_component(act=act, component=about.record, **values)
    return _prop(about), "The part is taken out."


def _link_fields(act: Act, about: About) -> list[Field]:
    return [
        Field("from_component", "Water from", "choice", choices=_others(about)),
        Field("to_component", "goes to", "choice", choices=_others(about)),
        Field("kind", "As", "choice", "normal", choices=Connection.Kind.choices,
              help="Overflow carries only the excess and never counts in the rating."),
        Field("certainty", "How known", "choice", "measured",
              choices=[("measured", "seen or measured"), ("assumed", "assumed")]),
        client_uid(),
    ]  # fmt: skip


def _add_link(request: HttpRequest, act: Act, about: About) -> tuple[Property, str]:
    values = cleaned(_link_fields(act, about), request.POST)
    rows = visible.components(act).filter(property=_prop(about))
    start, end = values.pop("from_component"), values.pop("to_component")
    if not start or not end:
        raise BadInput("Choose both parts: where the water comes from and where it goes.")
    connect.connect(
        act=act,
        uid=uid_of(request),
        from_component=found(rows, uid=start),
        to_component=found(rows, uid=end),
        **values,
    )
    return _prop(about), "The connection is recorded."


def _link(request: HttpRequest, act: Act, uid: UUID | None) -> About:
    row = found(visible.connections(act).select_related("property"), uid=uid)
    return About(row.property, row)


def _sure_fields(act: Act, about: About) -> list[Field]:
    return [Field("sure", f"Yes, take it away: {about.record}", "check", required=True)]


def _remove_link(request: HttpRequest, act: Act, about: About) -> tuple[Property, str]:
    if not cleaned(_sure_fields(act, about), request.POST)["sure"]:
        raise BadInput("Tick that you are sure.")
    connect.disconnect(act=act, connection=about.record)
    return _prop(about), "The connection is taken away."


def _area_fields(act: Act, about: About) -> list[Field]:
    inlets = [kind.code for kind in registry.ALL if kind.takes_in]
    return [
        Field("component", "Drains to", "choice", choices=_others(about, inlets)),
        Field("surface", "Surface", "choice", "paved", choices=DrainageArea.Surface.choices),
        Field("area_ft2", "Area", "number", unit="ft2", required=True),
        Field("runoff_c", "Runoff coefficient", "number", "0.9", required=True,
              help="0 to 1: roof or concrete about 0.9, lawn 0.1 to 0.35."),
        Field("concentration_min", "Time of concentration", "number", "5", unit="min", required=True,
              help="5, 10 or 15."),
        Field("name", "Name"),
        client_uid(),
    ]  # fmt: skip


def _add_area(request: HttpRequest, act: Act, about: About) -> tuple[Property, str]:
    values = cleaned(_area_fields(act, about), request.POST)
    chosen = values.pop("component")
    if not chosen:
        raise BadInput("Choose the part this surface drains to.")
    part = found(visible.components(act).filter(property=_prop(about)), uid=chosen)
    drainage_areas.add_drainage_area(act=act, component=part, uid=uid_of(request), **values)
    return _prop(about), "The drainage area is recorded; the storm rating follows."


def _area(request: HttpRequest, act: Act, uid: UUID | None) -> About:
    row = found(visible.drainage_areas(act).select_related("property"), uid=uid)
    return About(row.property, row)


def _remove_area(request: HttpRequest, act: Act, about: About) -> tuple[Property, str]:
    if not cleaned(_sure_fields(act, about), request.POST)["sure"]:
        raise BadInput("Tick that you are sure.")
    drainage_areas.remove_drainage_area(act=act, drainage_area=about.record)
    return _prop(about), "The drainage area is taken away."


def _photo_fields(act: Act, about: About) -> list[Field]:
    return [
        Field("picture", "Picture", "file", required=True),
        Field("moment", "Shows", "choice", "other", choices=Photo.Moment.choices),
        Field("component", "Of", "choice", choices=_others(about)),
        Field("caption", "Caption"),
        client_uid(),
    ]


def _add_photo(request: HttpRequest, act: Act, about: About) -> tuple[Property, str]:
    values = cleaned(_photo_fields(act, about), request.POST)
    given = request.FILES.get("picture")
    if given is None:
        raise BadInput("Choose a picture first.")
    if (given.size or 0) > FILE_BYTES:
        raise BadInput(f"The picture has {given.size} bytes; the limit is {FILE_BYTES} bytes.")
    chosen = values.pop("component")
    part = found(visible.components(act).filter(property=_prop(about)), uid=chosen) if chosen else None
    photos.add_photo(act=act, property=_prop(about), data=given.read(), component=part, uid=uid_of(request), **values)
    return _prop(about), "The photo is kept."


FORMS = {
    "system_add": Form("Add a system", at_property, _system_fields, _add_system),
    "system_change": Form("Change the system", _system, _system_fields, _change_system),
    "layout_add": Form("Begin from a starting layout", _layout, _layout_fields, _add_layout),
    "component_add": Form("Add a part", _new_component, _component_fields, _add_component),
    "component_change": Form("Change the part", _component, _component_fields, _change_component),
    "component_replace": Form(
        "Replace the part", _component, _replace_fields, _replace, "Replace",
        "Unplug and lock out before reaching into a sump; electrical work by licensed people.",
    ),
    "component_retire": Form("Take the part out", _component, _retire_fields, _retire, "Take out"),
    "connection_add": Form("Where water goes", at_property, _link_fields, _add_link),
    "connection_remove": Form("Take a connection away", _link, _sure_fields, _remove_link, "Take away"),
    "drainage_area_add": Form("Add a drainage area", at_property, _area_fields, _add_area),
    "drainage_area_remove": Form("Take a drainage area away", _area, _sure_fields, _remove_area, "Take away"),
    "photo_add": Form("Add a photo", at_property, _photo_fields, _add_photo, is_upload=True),
}  # fmt: skip
