"""Forms of properties, areas, people, hazards and jobs."""

from typing import Any
from uuid import UUID, uuid5

from django.http import HttpRequest

from core import company, normalise
from core.act import Act
from jobs import hazards, job_stages, people, register
from jobs.models import Customer, Hazard, Job, Property, PropertyRole
from jobs.read import visible
from maintenance import house_sold
from pages.acting import found
from pages.forms.fields import Field, cleaned, sure
from pages.office.register.editing import About, Form, client_uid, prop_of, revision, revision_of, uid_of


def at_property(request: HttpRequest, act: Act, uid: UUID | None) -> About:
    """A form that makes something at a property."""
    return About(found(visible.properties(act), uid=uid), choice=request.GET.get("kind", ""))


def person_at(request: HttpRequest, act: Act, uid: UUID | None) -> About:
    """A person at a property; `?q=` narrows who is offered."""
    return About(found(visible.properties(act), uid=uid), choice=request.GET.get("q", "").strip()[:100])


def nothing(request: HttpRequest, act: Act, uid: UUID | None) -> About:
    """A form that makes something new by itself."""
    return About(None)


def _property(request: HttpRequest, act: Act, uid: UUID | None) -> About:
    row = found(visible.properties(act), uid=uid)
    return About(row, row)


def _property_fields(act: Act, about: About) -> list[Field]:
    row: Property | None = about.record
    areas = [("", "none"), *((str(a.uid), a.name) for a in visible.areas(act).order_by("name"))]
    kept = lambda name: "" if getattr(row, name) is None else str(getattr(row, name))  # noqa: E731
    value = lambda name, otherwise="": kept(name) if row else otherwise  # noqa: E731
    fields = [
        Field("address", "Street and number", value=value("address"), required=True),
        Field("city", "Place", value=value("city")),
        Field("region", "Region or state", value=value("region")),
        Field("postcode", "Postcode", value=value("postcode")),
        Field("zone", "Time zone", value=value("zone", company.at(act.at).zone), help="As America/New_York."),
        Field("lat", "Latitude", "number", value("lat"), unit="degrees"),
        Field("lon", "Longitude", "number", value("lon"), unit="degrees", help="West is negative."),
        Field("area", "Area one trip covers", "choice", str(row.area.uid) if row and row.area else "", choices=areas),
        Field("consequence", "If it fails, water gets into", "choice", value("consequence", "building"),
              choices=Property.Consequence.choices),
        Field("canopy", "Trees overhead", "choice", value("canopy", "some"), choices=Property.Canopy.choices),
        Field("corner", "Corner positions are measured from", value=value("corner"),
              help="Such as: south-west corner of the house."),
        Field("access_note", "Access", "long", value("access_note")),
        Field("gate_code", "Gate code", "secret", help="Kept encrypted; only a visit's crew sees it. Empty keeps it."),
        *([Field("no_code", "There is no gate code any more", "check")] if row and row.gate_code else []),
        Field("notice_only", "May be entered with notice only", "check", "1" if row and row.notice_only else ""),
        Field("note", "Note for the office", "long", value("note")),
    ]  # fmt: skip
    return [*fields, revision(row)] if row else [*fields, client_uid()]


def _property_values(request: HttpRequest, act: Act, about: About) -> dict[str, Any]:
    values = cleaned(_property_fields(act, about), request.POST)
    area = values.pop("area")
    values["area"] = found(visible.areas(act), uid=area) if area else None
    if values.pop("no_code", False):
        values["gate_code"] = ""
    elif not values["gate_code"]:
        values.pop("gate_code")
    return values


def _add_property(request: HttpRequest, act: Act, about: About) -> tuple[Property, str]:
    made = register.create_property(act=act, uid=uid_of(request), **_property_values(request, act, about))
    return made, "The property is recorded. Next: who belongs to it, and what is in the ground."


def _change_property(request: HttpRequest, act: Act, about: About) -> tuple[Property, str]:
    values = _property_values(request, act, about)
    changed = register.change_property(act=act, property=about.record, revision=revision_of(request), **values)
    return changed, "The property is changed."


def _area_fields(act: Act, about: About) -> list[Field]:
    return [
        Field("name", "Name of the area", required=True, help="A group of properties that one trip covers."),
        client_uid(),
    ]


def _add_area(request: HttpRequest, act: Act, about: About) -> tuple[None, str]:
    values = cleaned(_area_fields(act, about), request.POST)
    register.create_area(act=act, uid=uid_of(request), **values)
    return None, f"The area {values['name']} is recorded."


ROLES = PropertyRole.Role.choices
OFFERED = 100
LANGUAGES = (("en", "English"), ("es", "Español"))


def _person_fields(act: Act, about: About) -> list[Field]:
    people_there = visible.customers(act).filter(erased_at=None)
    for word in normalise.folded(about.choice).split()[:5]:
        people_there = people_there.filter(search__contains=word)
    rows = people_there.order_by("name", "id")[:OFFERED]
    known = [("", "someone new"), *((str(c.uid), ", ".join(filter(None, (c.name, c.phone or c.email)))) for c in rows)]
    return [
        Field(
            "customer",
            "Person",
            "choice",
            choices=known,
            help=f"The first {OFFERED} by name; find others above. Someone new: give the name.",
        ),
        Field("name", "Name"),
        Field("kind", "Is", "choice", "person", choices=Customer.Kind.choices),
        Field("email", "E-mail"),
        Field("phone", "Phone"),
        Field("language", "Language", "choice", "en", choices=LANGUAGES),
        Field("role", "Role here", "choice", "owner", choices=ROLES),
        Field("from_date", "Since", "date", visible.today(act).isoformat(), required=True),
        Field("agrees_days", "May agree to days", "check", "1"),
        Field("approves_cost", "May approve cost", "check", ""),
        Field("gets_messages", "Gets messages", "check", "1"),
        client_uid(),
    ]


def _add_person(request: HttpRequest, act: Act, about: About) -> tuple[Property, str]:
    values = cleaned(_person_fields(act, about), request.POST)
    known = values.pop("customer")
    who = {name: values.pop(name) for name in ("name", "kind", "email", "phone", "language")}
    if known:
        customer = found(visible.customers(act), uid=known)
    else:
        customer = people.create_customer(act=act, uid=uid_of(request), **who)
    # The role has an id of its own, told by the form's: sent twice, both are the same.
    uid = uid_of(request)
    role = uuid5(uid, "role") if uid else None
    people.give_role(act=act, property=prop_of(about), customer=customer, uid=role, **values)
    return prop_of(about), f"{customer.name} is recorded as {values['role']}."


def _customer(request: HttpRequest, act: Act, uid: UUID | None) -> About:
    row = found(visible.customers(act), uid=uid)
    role = row.roles.select_related("property").order_by("-from_date").first()
    return About(role.property if role else None, row)


def _customer_fields(act: Act, about: About) -> list[Field]:
    row: Customer = about.record
    return [
        Field("name", "Name", value=row.name, required=True),
        Field("kind", "Is", "choice", row.kind, choices=Customer.Kind.choices),
        Field("email", "E-mail", value=row.email),
        Field("phone", "Phone", value=row.phone),
        Field("language", "Language", "choice", row.language, choices=LANGUAGES),
        Field("note", "Note", "long", row.note),
        revision(row),
    ]


def _change_customer(request: HttpRequest, act: Act, about: About) -> tuple[Property | None, str]:
    values = cleaned(_customer_fields(act, about), request.POST)
    people.change_customer(act=act, customer=about.record, revision=revision_of(request), **values)
    return about.property, "The person's record is changed."


def _role(request: HttpRequest, act: Act, uid: UUID | None) -> About:
    row = found(visible.roles(act).select_related("property", "customer"), uid=uid)
    return About(row.property, row)


def _end_role_fields(act: Act, about: About) -> list[Field]:
    return [
        Field("until_date", "First day without this role", "date", visible.today(act).isoformat(), required=True),
        Field("sure", f"Yes, {about.record.customer.name} leaves", "check", required=True),
    ]


def _end_role(request: HttpRequest, act: Act, about: About) -> tuple[Property | None, str]:
    values = cleaned(_end_role_fields(act, about), request.POST)
    sure(values, "links, calendar and mail of this person end.")
    house_sold.end_role(act=act, role=about.record, until_date=values["until_date"])
    return about.property, f"{about.record.customer.name} has no part here from {values['until_date']:%-d %B %Y} on."


def _hazard_fields(act: Act, about: About) -> list[Field]:
    return [
        Field("kind", "What", "choice", "cable", choices=Hazard.Kind.choices),
        Field("note", "Note", help="What the crew must know."),
        Field("x_ft", "East of the corner", "number", unit="ft"),
        Field("y_ft", "North of the corner", "number", unit="ft"),
        Field("depth_in", "Depth", "number", unit="in"),
        client_uid(),
    ]


def _add_hazard(request: HttpRequest, act: Act, about: About) -> tuple[Property | None, str]:
    values = cleaned(_hazard_fields(act, about), request.POST)
    hazards.add_hazard(act=act, property=prop_of(about), uid=uid_of(request), **values)
    return about.property, "The hazard is recorded; every visit and drawing shows it."


def _hazard(request: HttpRequest, act: Act, uid: UUID | None) -> About:
    row = found(visible.hazards(act).select_related("property"), uid=uid)
    return About(row.property, row)


def _gone_fields(act: Act, about: About) -> list[Field]:
    return [Field("note", "How do you know?", required=True), Field("sure", "Yes, it is gone", "check", required=True)]


def _hazard_gone(request: HttpRequest, act: Act, about: About) -> tuple[Property | None, str]:
    values = cleaned(_gone_fields(act, about), request.POST)
    sure(values, "the crew will not be warned of it any more.")
    hazards.hazard_gone(act=act, hazard=about.record, note=values["note"])
    return about.property, "The hazard is gone."


def _job_fields(act: Act, about: About) -> list[Field]:
    return [
        Field("kind", "Kind", "choice", "install", choices=Job.Kind.choices),
        Field("title", "What is wanted", required=True),
        Field("note", "Note", "long"),
        client_uid(),
    ]


def _add_job(request: HttpRequest, act: Act, about: About) -> tuple[Property | None, str]:
    values = cleaned(_job_fields(act, about), request.POST)
    job_stages.open_job(act=act, property=prop_of(about), uid=uid_of(request), **values)
    return about.property, "The job is recorded."


def _job(request: HttpRequest, act: Act, uid: UUID | None) -> About:
    row = found(visible.jobs(act).select_related("property", "system"), uid=uid)
    return About(row.property, row)


def _move_job_fields(act: Act, about: About) -> list[Field]:
    row: Job = about.record
    stages = [(code, words) for code, words in Job.Stage.choices if code in job_stages.MOVES[row.stage]]
    systems = [("", "none yet"), *((str(s.uid), s.name) for s in prop_of(about).systems.order_by("name"))]
    return [
        Field("stage", "It is now", "choice", choices=[("", f"still {row.get_stage_display()}"), *stages]),
        Field("waits_for", "Waits for", value=row.waits_for, help="One thing at a time."),
        Field("locate_number", "Utility-locate request number", value=row.locate_number,
              help="Wait the notice period; private lines need a private locator or hand-digging."),
        Field("system", "System it makes or changes", "choice", str(row.system.uid) if row.system else "",
              choices=systems),
        Field("note", "Note", help="Digging without a locate number wants the reason here. Follow local law."),
        revision(row),
    ]  # fmt: skip


def _move_job(request: HttpRequest, act: Act, about: About) -> tuple[Property | None, str]:
    values = cleaned(_move_job_fields(act, about), request.POST)
    system = (
        found(visible.systems(act).filter(property=prop_of(about)), uid=values["system"]) if values["system"] else None
    )
    row = job_stages.change_job(
        act=act,
        job=about.record,
        revision=revision_of(request),
        waits_for=values["waits_for"],
        locate_number=values["locate_number"],
        system=system,
    )
    if values["stage"]:
        job_stages.move_job(act=act, job=row, stage=values["stage"], note=values["note"])
    return about.property, "The job is up to date."


DIGGING = (
    "Digging: utility-locate request first, hand-dig near marks, protective systems from 5 ft, spoil 2 ft back. "
    "Follow local codes and licensed practice."
)
FORMS = {
    "property_add": Form("Add a property", nothing, _property_fields, _add_property),
    "property_change": Form("Change the property", _property, _property_fields, _change_property),
    "area_add": Form("Add an area", nothing, _area_fields, _add_area),
    "person_add": Form("Add a person", person_at, _person_fields, _add_person, search="Find someone on record"),
    "customer_change": Form("Change a person's record", _customer, _customer_fields, _change_customer),
    "role_end": Form("Moves out, or the house is sold", _role, _end_role_fields, _end_role, "End the role"),
    "hazard_add": Form("Record a hazard", at_property, _hazard_fields, _add_hazard),
    "hazard_gone": Form("The hazard is gone", _hazard, _gone_fields, _hazard_gone, "It is gone"),
    "job_add": Form("Open a job", at_property, _job_fields, _add_job),
    "job_move": Form("Move a job on", _job, _move_job_fields, _move_job, caution=DIGGING),
}
