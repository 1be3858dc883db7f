"""Service agreements: what a customer pays for by the year, and which rules that covers."""

from collections.abc import Sequence
from datetime import date, timedelta
from typing import Any

from django.db import transaction

from core import limits, normalise
from core.act import Act
from core.history import record_change
from core.problem import BadInput, Conflict, FieldProblem, NotAllowed, StaleVersion
from jobs.models import Customer, Property
from maintenance.models import Rule, ServiceAgreement

PRICE_HIGH_CENTS = 100_000_000
CHANGEABLE = frozenset({"price_cents", "starts_on", "ends_on", "renews", "note", "customer", "rules"})


def in_force(property_id: int, on: date) -> ServiceAgreement | None:
    """The agreement in force at a property on a local date: both end days count; the one begun last if several."""
    return (
        ServiceAgreement.objects.filter(property_id=property_id, starts_on__lte=on, ends_on__gte=on)
        .order_by("-starts_on", "-id")
        .first()
    )


def create_agreement(
    *,
    act: Act,
    property: Property,
    starts_on: date,
    ends_on: date,
    rules: Sequence[Rule] = (),
    customer: Customer | None = None,
    price_cents: int = 0,
    renews: bool = False,
    note: str = "",
) -> ServiceAgreement:
    """Record an agreement. Raises BadInput for dates or a price out of range, Conflict where one runs already."""
    _office_only(act)
    _check(starts_on, ends_on, price_cents)
    with transaction.atomic():
        # The property's row is the lock: two agreements made at once would each see none running.
        Property.objects.select_for_update().get(pk=property.pk)
        _check_overlap(property.pk, starts_on, ends_on)
        agreement = ServiceAgreement.objects.create(
            property=property,
            customer=customer,
            price_cents=price_cents,
            starts_on=starts_on,
            ends_on=ends_on,
            renews=renews,
            note=normalise.text(note, limit=limits.NOTE),
            created_at=act.at,
        )
        agreement.rules.set(rules)
        _write_history(act, agreement, "create", {}, _shown(agreement))
    return agreement


def change_agreement(*, act: Act, agreement: ServiceAgreement, revision: int, **fields: Any) -> ServiceAgreement:
    """Change some of price_cents, starts_on, ends_on, renews, note, customer, rules. StaleVersion if it moved on."""
    _office_only(act)
    _check_names(fields)
    with transaction.atomic():
        Property.objects.select_for_update().get(pk=agreement.property_id)
        row = ServiceAgreement.objects.select_for_update().get(pk=agreement.pk)
        if row.revision != revision:
            raise StaleVersion(f"You saw revision {revision} of this agreement; it is at {row.revision} now.")
        before = _shown(row)
        rules = fields.pop("rules", None)
        if "note" in fields:
            fields["note"] = normalise.text(fields["note"], limit=limits.NOTE)
        for name, value in fields.items():
            setattr(row, name, value)
        _check(row.starts_on, row.ends_on, row.price_cents)
        _check_overlap(row.property_id, row.starts_on, row.ends_on, besides=row.pk)
        row.revision += 1
        row.save()
        if rules is not None:
            row.rules.set(rules)
        _write_history(act, row, "change", before, _shown(row))
    agreement.refresh_from_db()
    return agreement


def cancel_agreement(*, act: Act, agreement: ServiceAgreement, on: date, why: str) -> ServiceAgreement:
    """End an agreement on `on`, its last day, and stop its renewal; it stays on record. The reason is kept."""
    reason = normalise.line(why, limit=limits.LINE)
    if not reason:
        raise BadInput("Say why the agreement ends.", fields=(FieldProblem("why", "Say why the agreement ends."),))
    _office_only(act)
    with transaction.atomic():
        row = ServiceAgreement.objects.select_for_update().get(pk=agreement.pk)
        if on > row.ends_on:
            raise Conflict(f"This agreement ends on {row.ends_on} already: give that day or an earlier one.")
        before = _shown(row)
        # One cancelled before it began covers nothing: its last day lies before its first.
        row.ends_on = max(on, row.starts_on - timedelta(days=1))
        row.renews = False
        row.revision += 1
        row.save(update_fields=["ends_on", "renews", "revision"])
        _write_history(act, row, "cancel", before, _shown(row), reason)
    agreement.refresh_from_db()
    return agreement


def _office_only(act: Act) -> None:
    if not act.is_office:
        raise NotAllowed("Only the office may change agreements.")


def _check_names(fields: dict[str, Any]) -> None:
    unknown = sorted(set(fields) - CHANGEABLE)
    if unknown:
        problems = tuple(FieldProblem(name, f"{name} cannot be changed.") for name in unknown)
        raise BadInput(f"An agreement has no {', '.join(unknown)} to change.", fields=problems)


def _check(starts_on: date, ends_on: date, price_cents: int) -> None:
    problems = []
    if ends_on < starts_on:
        problems.append(FieldProblem("ends_on", f"ends_on is {ends_on}: give {starts_on} or later.", str(ends_on)))
    if not 0 <= price_cents <= PRICE_HIGH_CENTS:
        message = f"price_cents is {price_cents}: give 0 to {PRICE_HIGH_CENTS} cents."
        problems.append(FieldProblem("price_cents", message, price_cents))
    if problems:
        raise BadInput(" ".join(p.message for p in problems), fields=tuple(problems))


def _check_overlap(property_id: int, starts_on: date, ends_on: date, besides: int | None = None) -> None:
    rows = ServiceAgreement.objects.filter(property_id=property_id, starts_on__lte=ends_on, ends_on__gte=starts_on)
    other = next((row for row in rows if row.pk != besides), None)
    if other is not None:
        raise Conflict(f"An agreement from {other.starts_on} to {other.ends_on} runs at this property already.")


def _shown(agreement: ServiceAgreement) -> dict[str, Any]:
    return {
        "price_cents": agreement.price_cents,
        "starts_on": str(agreement.starts_on),
        "ends_on": str(agreement.ends_on),
        "renews": agreement.renews,
        "note": agreement.note,
        "customer": str(agreement.customer.uid) if agreement.customer else None,
        "rules": sorted(agreement.rules.values_list("code", flat=True)),
    }


def _write_history(
    act: Act, agreement: ServiceAgreement, action: str, before: dict[str, Any], after: dict[str, Any], note: str = ""
) -> None:
    record_change(
        act=act,
        noun="agreement",
        uid=agreement.uid,
        action=action,
        before=before,
        after=after,
        property_uid=agreement.property.uid,
        note=note,
    )
