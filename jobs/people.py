"""Writes customers and what they are to a property. Their personal values never enter the history."""

from datetime import date
from typing import Any
from uuid import UUID

from django.conf import settings
from django.db import transaction

from core import limits, normalise
from core.act import Act
from core.problem import Conflict
from jobs import field_checks as checks
from jobs.edits import change_if_unchanged, change_plain, create_once, raise_revision
from jobs.models import Customer, Property, PropertyRole

PERSONAL = frozenset({"name", "email", "phone", "note"})
CUSTOMER: dict[str, checks.Check] = {
    "kind": checks.one_of(Customer.Kind.values),
    "name": checks.line(limits.NAME, required=True),
    "email": checks.email,
    "phone": checks.line(limits.PHONE),
    "language": checks.one_of(code for code, _ in settings.LANGUAGES),
    "note": checks.note(),
}
RIGHTS: dict[str, checks.Check] = {
    "agrees_days": checks.yes_no,
    "approves_cost": checks.yes_no,
    "gets_messages": checks.yes_no,
}
ROLE: dict[str, checks.Check] = {
    "role": checks.one_of(PropertyRole.Role.values),
    "from_date": checks.day(required=True),
    **RIGHTS,
}


def create_customer(
    *,
    act: Act,
    name: str,
    email: str = "",
    phone: str = "",
    kind: str = "person",
    language: str = "en",
    note: str = "",
    uid: UUID | None = None,
) -> Customer:
    """Record a person or an association. Raises BadInput, Conflict."""
    given = {"kind": kind, "name": name, "email": email, "phone": phone, "language": language, "note": note}
    values = checks.cleaned("customer", CUSTOMER, given)
    with transaction.atomic():
        made, new = create_once(
            Customer,
            act=act,
            noun="customer",
            uid=uid,
            values=values,
            derived={"search": _search(values), "created_at": act.at},
            withheld=PERSONAL,
        )
        # The history withholds personal values, so that they are compared here.
        if not new and any(getattr(made, field) != values[field] for field in PERSONAL):
            raise Conflict(f"The id {uid} was used before for another customer.", code="uid_taken")
    return made


def change_customer(*, act: Act, customer: Customer, revision: int, **fields: Any) -> Customer:
    """Change the given fields if the customer still has `revision`. Raises BadInput, StaleVersion."""
    values = checks.cleaned("customer", CUSTOMER, fields)
    search = _search({name: values.get(name, getattr(customer, name)) for name in ("name", "email", "phone")})
    with transaction.atomic():
        present, _ = change_if_unchanged(
            customer,
            act=act,
            noun="customer",
            revision=revision,
            values=values,
            derived={"search": search},
            withheld=PERSONAL,
        )
    return present


def _search(values: dict[str, Any]) -> str:
    return normalise.search_text(values["name"], values["email"], values["phone"])


def give_role(
    *,
    act: Act,
    property: Property,
    customer: Customer,
    role: str,
    from_date: date,
    agrees_days: bool = True,
    approves_cost: bool = False,
    gets_messages: bool = True,
    uid: UUID | None = None,
) -> PropertyRole:
    """Say that a customer is owner, tenant or manager of a property from a day on.

    Raises BadInput, Conflict where that customer holds this role there already.
    """
    given = {
        "role": role,
        "from_date": from_date,
        "agrees_days": agrees_days,
        "approves_cost": approves_cost,
        "gets_messages": gets_messages,
    }
    values = checks.cleaned("role", ROLE, given)
    with transaction.atomic():
        # Two who press at once meet here: the property's row is held until the first has committed.
        Property.objects.select_for_update().get(pk=property.pk)
        holds = PropertyRole.objects.filter(property=property, customer=customer, role=role, until_date=None)
        if uid is not None:
            holds = holds.exclude(uid=uid)
        if holds.exists():
            raise Conflict(f"This customer is {role} of {property} already.", code="role_held")
        made, new = create_once(
            PropertyRole,
            act=act,
            noun="property_role",
            uid=uid,
            values={"property": property, "customer": customer, **values},
            at_property=property,
        )
        if new:
            raise_revision(property.pk)
    return made


def change_role(*, act: Act, role: PropertyRole, **fields: Any) -> PropertyRole:
    """Change what a person may decide and is told: agrees_days, approves_cost, gets_messages."""
    values = checks.cleaned("role", RIGHTS, fields)
    with transaction.atomic():
        present, changed = change_plain(
            role, act=act, noun="property_role", values=values, property_uid=role.property.uid
        )
        if changed:
            raise_revision(role.property_id)
    return present


def end_role(*, act: Act, role: PropertyRole, until_date: date) -> PropertyRole:
    """End a role: `until_date` is the first day on which it no longer holds. The same day again changes nothing.

    Links, feeds and queued mail end with it in maintenance/house_sold.py, in the same transaction: call that one where
    a house was sold. Raises BadInput, Conflict where the role ended on another day.
    """
    until = checks.cleaned("role", {"until_date": checks.day(required=True)}, {"until_date": until_date})["until_date"]
    if until < role.from_date:
        words = f"until_date is {until}: give a day from {role.from_date} on, when the role began."
        checks.refuse_field("until_date", words, until)
    with transaction.atomic():
        present = PropertyRole.objects.select_for_update().select_related("property").get(pk=role.pk)
        if present.until_date not in (None, until):
            raise Conflict(f"This role ended on {present.until_date} already.", code="role_ended")
        present, changed = change_plain(
            present,
            act=act,
            noun="property_role",
            values={"until_date": until},
            property_uid=present.property.uid,
        )
        if changed:
            raise_revision(present.property_id)
    return present
