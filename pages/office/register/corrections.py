"""Forms that correct what is recorded: hazards, roles, drainage areas, jobs, the plan; and close a property."""

from typing import Any
from uuid import UUID

from django.http import HttpRequest

from core.act import Act
from core.problem import BadInput, FieldProblem
from jobs import drainage_areas, hazards, job_stages, people, register
from jobs.drawing.measures import from_corner
from jobs.kinds import registry
from jobs.models import DrainageArea, Hazard, Job, Property, PropertyRole
from jobs.read import visible
from pages.acting import found
from pages.forms.fields import Field, cleaned, sure
from pages.forms.points import points_of, points_shown
from pages.office.register.choices import others
from pages.office.register.editing import About, Form, prop_of, revision, revision_of

HOW_KNOWN = (("measured", "measured"), ("assumed", "assumed"))
CORNERS = "Feet east and north of the named corner, around the house: 0 0; 42 0; 42 26; 0 26"


def _number(value: float | None) -> str:
    if value is None:
        return ""
    return str(int(value)) if float(value).is_integer() else repr(float(value))


def _hazard(request: HttpRequest, act: Act, uid: UUID | None) -> About:
    row = found(visible.hazards(act).select_related("property"), uid=uid)
    return About(row.property, row)


def _hazard_fields(act: Act, about: About) -> list[Field]:
    row: Hazard = about.record
    return [
        Field("kind", "What", "choice", row.kind, choices=Hazard.Kind.choices),
        Field("note", "Note", value=row.note, help="What the crew must know."),
        Field("x_ft", "East of the corner", "number", _number(row.x_ft), unit="ft", help="West is negative."),
        Field("y_ft", "North of the corner", "number", _number(row.y_ft), unit="ft", help="South is negative."),
        Field("depth_in", "Depth", "number", _number(row.depth_in), unit="in", help="0 to 240. Empty: unknown."),
    ]


def _change_hazard(request: HttpRequest, act: Act, about: About) -> tuple[Property, str]:
    values = cleaned(_hazard_fields(act, about), request.POST)
    hazards.change_hazard(act=act, hazard=about.record, **values)
    return prop_of(about), "The hazard is corrected; every visit and drawing shows it so."


def _role(request: HttpRequest, act: Act, uid: UUID | None) -> About:
    row = found(visible.roles(act).select_related("property", "customer"), uid=uid)
    return About(row.property, row)


def _role_fields(act: Act, about: About) -> list[Field]:
    row: PropertyRole = about.record
    who = row.customer.name
    ticked = lambda name: "1" if getattr(row, name) else ""  # noqa: E731
    return [
        Field("agrees_days", f"{who} may agree to days", "check", ticked("agrees_days")),
        Field("approves_cost", f"{who} may approve cost", "check", ticked("approves_cost")),
        Field("gets_messages", f"{who} gets messages about this property", "check", ticked("gets_messages")),
    ]


def _change_role(request: HttpRequest, act: Act, about: About) -> tuple[Property, str]:
    people.change_role(act=act, role=about.record, **cleaned(_role_fields(act, about), request.POST))
    return prop_of(about), f"What {about.record.customer.name} may decide is changed."


def _area(request: HttpRequest, act: Act, uid: UUID | None) -> About:
    row = found(visible.drainage_areas(act).select_related("property", "component"), uid=uid)
    return About(row.property, row)


def _area_fields(act: Act, about: About) -> list[Field]:
    row: DrainageArea = about.record
    inlets = others(about, [kind.code for kind in registry.ALL if kind.takes_in], present=row.component)
    return [
        Field("component", "Drains to", "choice", str(row.component.uid), choices=inlets[1:] or inlets),
        Field("surface", "Surface", "choice", row.surface, choices=DrainageArea.Surface.choices),
        Field("area_ft2", "Area", "number", _number(row.area_ft2), unit="ft2", required=True),
        Field("runoff_c", "Runoff coefficient", "number", _number(row.runoff_c), required=True,
              help="More than 0, at most 1: roof or concrete about 0.9, lawn 0.1 to 0.35."),
        Field("concentration_min", "Time of concentration", "number", _number(row.concentration_min), unit="min",
              required=True, help="5 to 1440."),
        Field("certainty", "How the area is known", "choice", row.certainty, choices=HOW_KNOWN),
        Field("name", "Name", value=row.name, help="Such as: patio, upper half."),
    ]  # fmt: skip


def _change_area(request: HttpRequest, act: Act, about: About) -> tuple[Property, str]:
    values = cleaned(_area_fields(act, about), request.POST)
    row: DrainageArea = about.record
    chosen = values.pop("component")
    if chosen != str(row.component.uid):
        values["component"] = found(visible.components(act).filter(property=prop_of(about)), uid=chosen)
    drainage_areas.change_drainage_area(act=act, drainage_area=row, **values)
    return prop_of(about), "The drainage area is corrected; the storm rating follows."


def _job(request: HttpRequest, act: Act, uid: UUID | None) -> About:
    row = found(visible.jobs(act).select_related("property", "system"), uid=uid)
    return About(row.property, row)


def _job_fields(act: Act, about: About) -> list[Field]:
    row: Job = about.record
    systems = [("", "none yet"), *((str(s.uid), s.name) for s in prop_of(about).systems.order_by("name", "id"))]
    price = "" if row.price_cents is None else f"{row.price_cents / 100:.2f}"
    day = lambda name: str(getattr(row, name) or "")  # noqa: E731
    return [
        Field("kind", "Kind", "choice", row.kind, choices=Job.Kind.choices),
        Field("title", "What is wanted", value=row.title, required=True),
        Field("system", "System it makes or changes", "choice", str(row.system.uid) if row.system else "",
              choices=systems),
        Field("waits_for", "Waits for", value=row.waits_for, help="One thing at a time."),
        Field("price", "Price", "number", price, unit="dollars", help="Empty: not priced yet."),
        Field("locate_asked_on", "Utility-locate service asked on", "date", day("locate_asked_on")),
        Field("locate_number", "Utility-locate request number", value=row.locate_number,
              help="Wait the notice period; private lines need a private locator or hand-digging."),
        Field("starts_on", "Work begins", "date", day("starts_on")),
        Field("note", "Note", "long", row.note),
        revision(row),
    ]  # fmt: skip


def _change_job(request: HttpRequest, act: Act, about: About) -> tuple[Property, str]:
    values = cleaned(_job_fields(act, about), request.POST)
    values["price_cents"] = _cents(values.pop("price"))
    chosen = values["system"]
    values["system"] = found(visible.systems(act).filter(property=prop_of(about)), uid=chosen) if chosen else None
    job_stages.change_job(act=act, job=about.record, revision=revision_of(request), **values)
    return prop_of(about), "The job is changed."


def _cents(dollars: float | None) -> int | None:
    """Whole cents. Raises BadInput for parts of a cent and what is out of range."""
    if dollars is None:
        return None
    cents = round(dollars * 100)
    if not 0 <= cents <= 1_000_000_000 or abs(cents - dollars * 100) > 1e-6:
        message = f"Price is {dollars:g} dollars: give dollars and whole cents from 0 to 10000000."
        raise BadInput(message, fields=(FieldProblem("price", message, dollars),))
    return cents


def _property(request: HttpRequest, act: Act, uid: UUID | None) -> About:
    row = found(visible.properties(act), uid=uid)
    return About(row, row)


def _plan_fields(act: Act, about: About) -> list[Field]:
    row: Property = about.record
    house = [point for point in row.plan.get("house", ()) if len(point) == 2]
    north = row.plan.get("north_deg")
    return [
        Field("corner", "Corner everything is measured from", value=row.corner, required=True,
              help="Such as: south-west corner of the house."),
        Field("house", "Corners of the house", value=points_shown(house), unit="ft", help=CORNERS),
        Field("north_deg", "North on the drawing", "number", _number(north) or "0", unit="degrees",
              help="Clockwise from straight up, -360 to 360; 0 where the walls were measured by the compass."),
        revision(row),
    ]  # fmt: skip


def _change_plan(request: HttpRequest, act: Act, about: About) -> tuple[Property, str]:
    values = cleaned(_plan_fields(act, about), request.POST)
    house, north = points_of("house", values["house"]), values["north_deg"] or 0.0
    problems = []
    if 0 < len(house) < 3:
        there = "; ".join(map(from_corner, house))
        message = f"Corners of the house: {len(house)} given ({there}): give at least 3, or none."
        problems.append(FieldProblem("house", message, values["house"]))
    if any(abs(part) > 5000 for point in house for part in point):
        message = "Corners of the house: give feet from -5000 to 5000."
        problems.append(FieldProblem("house", message, values["house"]))
    if abs(north) > 360:
        message = f"North on the drawing is {north:g} degrees: give a number from -360 to 360 degrees."
        problems.append(FieldProblem("north_deg", message, north))
    if problems:
        raise BadInput("Some values need another look.", fields=tuple(problems))
    row: Property = about.record
    plan: dict[str, Any] = {**row.plan, "house": house, "north_deg": north}
    register.change_property(
        act=act, property=row, revision=revision_of(request), corner=values["corner"], plan=plan
    )  # fmt: skip
    return row, "The drawing's house and corner are changed."


def _close_fields(act: Act, about: About) -> list[Field]:
    row: Property = about.record
    words = "open it again" if row.closed_at else "close it: nothing is planned or due here any more"
    return [Field("sure", f"Yes, {words}", "check", required=True), revision(row)]


def _close(request: HttpRequest, act: Act, about: About) -> tuple[Property, str]:
    row: Property = about.record
    sure(cleaned(_close_fields(act, about), request.POST), "everything recorded stays.")
    closed_at = None if row.closed_at else act.at
    register.change_property(act=act, property=row, revision=revision_of(request), closed_at=closed_at)
    return row, "The property is open again." if closed_at is None else "The property is closed; its record stays."


FORMS = {
    "hazard_change": Form("Correct a hazard", _hazard, _hazard_fields, _change_hazard),
    "role_change": Form("What a person may decide", _role, _role_fields, _change_role),
    "drainage_area_change": Form("Correct a drainage area", _area, _area_fields, _change_area),
    "job_change": Form("Change a job", _job, _job_fields, _change_job),
    "plan_change": Form("House and corner of the drawing", _property, _plan_fields, _change_plan),
    "property_close": Form("Close the property, or open it again", _property, _close_fields, _close, "Yes"),
}
