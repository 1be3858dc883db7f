"""Forms of systems, starting layouts, connections, drainage areas and photos."""

from dataclasses import replace
from uuid import UUID

from django.http import HttpRequest

from core.act import Act
from core.limits import FILE_BYTES
from core.problem import BadInput, FieldProblem
from jobs import connect, drainage_areas, photos, register
from jobs.decide import layouts
from jobs.kinds import registry
from jobs.models import Connection, DrainageArea, Photo, Property, System
from jobs.read import visible
from jobs.starting_layouts import apply_layout
from pages.acting import found
from pages.forms.fields import Field, cleaned, sure
from pages.office.register.choices import others, part_words
from pages.office.register.edit_places import at_property
from pages.office.register.editing import About, Form, client_uid, prop_of, revision, revision_of, uid_of

HOW_KNOWN = (("measured", "seen or measured"), ("assumed", "assumed"))


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
        Field("handed_over_on", "Handed over", "date", day("handed_over_on"),
              help="Only once the checks of an install of ours find no error."),
        Field("note", "Note", "long", row.note if row else ""),
    ]  # fmt: skip
    return [*fields, revision(row)] if row else [*fields, client_uid()]


def _add_system(request: HttpRequest, act: Act, about: About) -> tuple[Property, str]:
    values = cleaned(_system_fields(act, about), request.POST)
    register.create_system(act=act, property=prop_of(about), uid=uid_of(request), **values)
    return prop_of(about), "The system is recorded. Add its parts, or begin from a starting layout."


def _change_system(request: HttpRequest, act: Act, about: About) -> tuple[Property, str]:
    values = cleaned(_system_fields(act, about), request.POST)
    register.change_system(act=act, system=about.record, revision=revision_of(request), **values)
    return prop_of(about), "The system is changed."


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
    known = Field("certainty", "How these numbers are known", "choice", "assumed", choices=HOW_KNOWN)
    return [name, *asks, known, client_uid()]


def _add_layout(request: HttpRequest, act: Act, about: About) -> tuple[Property, str]:
    values = cleaned(_layout_fields(act, about), request.POST)
    apply_layout(
        act=act,
        property=prop_of(about),
        layout=about.choice,
        system_name=values.pop("system_name"),
        certainty=values.pop("certainty"),
        numbers=values,
        uid=uid_of(request),
    )
    return prop_of(about), "The starting layout is in the register. Now correct it by what is really there."


def refused(field: str, message: str) -> BadInput:
    """The error of one field."""
    return BadInput(message, fields=(FieldProblem(field, message),))


def _link_fields(act: Act, about: About) -> list[Field]:
    return [
        Field("from_component", "Water from", "choice", choices=others(about)),
        Field("to_component", "goes to", "choice", choices=others(about)),
        Field("kind", "As", "choice", "normal", choices=Connection.Kind.choices,
              help="Overflow carries only the excess and never counts in the rating."),
        Field("certainty", "How known", "choice", "measured", choices=HOW_KNOWN),
        client_uid(),
    ]  # fmt: skip


def _add_link(request: HttpRequest, act: Act, about: About) -> tuple[Property, str]:
    values = cleaned(_link_fields(act, about), request.POST)
    rows = visible.components(act).filter(property=prop_of(about))
    start, end = values.pop("from_component"), values.pop("to_component")
    for field, uid, told in (("from_component", start, "comes from"), ("to_component", end, "goes to")):
        if not uid:
            raise refused(field, f"Choose the part the water {told}.")
    connect.connect(
        act=act,
        uid=uid_of(request),
        from_component=found(rows, uid=start),
        to_component=found(rows, uid=end),
        **values,
    )
    return prop_of(about), "The connection is recorded."


def _link(request: HttpRequest, act: Act, uid: UUID | None) -> About:
    row = found(visible.connections(act).select_related("property", "from_component", "to_component"), uid=uid)
    return About(row.property, row)


def _sure_fields(act: Act, about: About) -> list[Field]:
    row: Connection | DrainageArea = about.record
    if isinstance(row, Connection):
        what = f"{part_words(row.from_component)} to {part_words(row.to_component)}"
    else:
        what = f"{row.name or row.get_surface_display()}, {row.area_ft2:g} ft2, to {part_words(row.component)}"
    return [Field("sure", f"Yes, take it away: {what}", "check", required=True)]


def _remove_link(request: HttpRequest, act: Act, about: About) -> tuple[Property, str]:
    sure(cleaned(_sure_fields(act, about), request.POST), "water no longer goes this way.")
    connect.disconnect(act=act, connection=about.record)
    return prop_of(about), "The connection is taken away."


def _area_fields(act: Act, about: About) -> list[Field]:
    inlets = [kind.code for kind in registry.ALL if kind.takes_in]
    return [
        Field("component", "Drains to", "choice", choices=others(about, inlets)),
        Field("surface", "Surface", "choice", "paved", choices=DrainageArea.Surface.choices),
        Field("area_ft2", "Area", "number", unit="ft2", required=True),
        Field("runoff_c", "Runoff coefficient", "number", "0.9", required=True,
              help="0 to 1: roof or concrete about 0.9, lawn 0.1 to 0.35."),
        Field("concentration_min", "Time of concentration", "number", "5", unit="min", required=True,
              help="5, 10 or 15."),
        Field("certainty", "How known", "choice", "assumed", choices=HOW_KNOWN),
        Field("name", "Name"),
        client_uid(),
    ]  # fmt: skip


def _add_area(request: HttpRequest, act: Act, about: About) -> tuple[Property, str]:
    values = cleaned(_area_fields(act, about), request.POST)
    chosen = values.pop("component")
    if not chosen:
        raise refused("component", "Choose the part this surface drains to.")
    part = found(visible.components(act).filter(property=prop_of(about)), uid=chosen)
    drainage_areas.add_drainage_area(act=act, component=part, uid=uid_of(request), **values)
    return prop_of(about), "The drainage area is recorded; the storm rating follows."


def _area(request: HttpRequest, act: Act, uid: UUID | None) -> About:
    row = found(visible.drainage_areas(act).select_related("property", "component"), uid=uid)
    return About(row.property, row)


def _remove_area(request: HttpRequest, act: Act, about: About) -> tuple[Property, str]:
    sure(cleaned(_sure_fields(act, about), request.POST), "the storm rating counts it no more.")
    drainage_areas.remove_drainage_area(act=act, drainage_area=about.record)
    return prop_of(about), "The drainage area is taken away."


def _photo_fields(act: Act, about: About) -> list[Field]:
    return [
        Field("picture", "Picture", "file", required=True),
        Field("moment", "Shows", "choice", "other", choices=Photo.Moment.choices),
        Field("component", "Of", "choice", choices=others(about)),
        Field("caption", "Caption"),
        client_uid(),
    ]


def _add_photo(request: HttpRequest, act: Act, about: About) -> tuple[Property, str]:
    values = cleaned(_photo_fields(act, about), request.POST)
    given = request.FILES.get("picture")
    if given is None:
        raise refused("picture", "Choose a picture first.")
    if (given.size or 0) > FILE_BYTES:
        raise refused("picture", f"The picture has {given.size} bytes; the limit is {FILE_BYTES} bytes.")
    chosen = values.pop("component")
    part = found(visible.components(act).filter(property=prop_of(about)), uid=chosen) if chosen else None
    photos.add_photo(act=act, property=prop_of(about), data=given.read(), component=part, uid=uid_of(request), **values)
    return prop_of(about), "The photo is kept."


FORMS = {
    "system_add": Form("Add a system", at_property, _system_fields, _add_system),
    "system_change": Form("Change the system", _system, _system_fields, _change_system),
    "layout_add": Form("Begin from a starting layout", _layout, _layout_fields, _add_layout),
    "connection_add": Form("Where water goes", at_property, _link_fields, _add_link),
    "connection_remove": Form("Take a connection away", _link, _sure_fields, _remove_link, "Take away"),
    "drainage_area_add": Form("Add a drainage area", at_property, _area_fields, _add_area),
    "drainage_area_remove": Form("Take a drainage area away", _area, _sure_fields, _remove_area, "Take away"),
    "photo_add": Form("Add a photo", at_property, _photo_fields, _add_photo, is_upload=True),
}  # fmt: skip
