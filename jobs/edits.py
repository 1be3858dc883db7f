"""Creates a record once by its client-made uid, and changes a record only if nobody else did; both keep the history."""

from collections.abc import Mapping
from datetime import date, datetime
from typing import Any, TypeVar
from uuid import UUID, uuid4

from django.db import IntegrityError, models, transaction
from django.db.models import F

from core.act import Act
from core.history import differences, record_change
from core.models import History
from core.problem import Conflict, StaleVersion
from jobs.models import Property

M = TypeVar("M", bound=models.Model)
WITHHELD = "withheld"
"""Stands in the history for a customer's personal values, which are kept in one place only."""


def plain(value: Any) -> Any:
    """A value as the history keeps it: dates ISO, records by uid."""
    if isinstance(value, date | datetime):
        return value.isoformat()
    if isinstance(value, UUID):
        return str(value)
    if isinstance(value, models.Model):
        return str(getattr(value, "uid", value.pk))
    return value


def as_kept(values: Mapping[str, Any], *, withheld: frozenset[str] = frozenset()) -> dict[str, Any]:
    """{field: value} as the history keeps it; empty values are left out, personal ones withheld."""
    kept = {name: plain(value) for name, value in values.items() if value not in (None, "", [], {})}
    return {name: WITHHELD if name in withheld else value for name, value in kept.items()}


def raise_revision(property_id: int | None) -> None:
    """Say that something at the property changed: what was computed from it is now stale."""
    if property_id is not None:
        Property.objects.filter(pk=property_id).update(revision=F("revision") + 1)


def create_once(
    model: type[M],
    *,
    act: Act,
    noun: str,
    uid: UUID | None,
    values: Mapping[str, Any],
    derived: Mapping[str, Any] | None = None,
    at_property: Property | None = None,
    withheld: frozenset[str] = frozenset(),
    note: str = "",
) -> tuple[M, bool]:
    """(record, True) when made now; (record, False) when this uid was made before from the same values.

    `values` go to the row and the history, `derived` to the row only. Raises Conflict when the uid belongs to something
    else; an IntegrityError that is not about the uid passes through. Call inside a transaction.
    """
    made_uid = uid or uuid4()
    after = as_kept(values, withheld=withheld)
    try:
        with transaction.atomic():
            record = model._default_manager.create(uid=made_uid, **values, **(derived or {}))
    except IntegrityError:
        earlier = model._default_manager.filter(uid=made_uid).first()
        if earlier is None:
            raise
        if not _made_from(earlier, made_uid, after, withheld):
            words = f"The id {made_uid} was used before for a {noun.replace('_', ' ')} with other values."
            raise Conflict(words, code="uid_taken") from None
        return earlier, False
    record_change(
        act=act,
        noun=noun,
        uid=made_uid,
        action="create",
        after=after,
        property_uid=at_property.uid if at_property else None,
        note=note,
    )
    return record, True


def _made_from(record: models.Model, uid: UUID, after: Mapping[str, Any], withheld: frozenset[str]) -> bool:
    """Whether the record was created from these values, whatever changed since."""
    entry = History.objects.filter(object_uid=uid, action="create").order_by("id").first()
    if entry is not None:
        return entry.changes == differences({}, dict(after))
    present = {name: getattr(record, name) for name in after}
    return as_kept(present, withheld=withheld) == dict(after)


def change_if_unchanged(
    record: M,
    *,
    act: Act,
    noun: str,
    revision: int,
    values: Mapping[str, Any],
    derived: Mapping[str, Any] | None = None,
    property_uid: UUID | None = None,
    withheld: frozenset[str] = frozenset(),
    note: str = "",
) -> tuple[M, frozenset[str]]:
    """Write only the fields that differ, if the record still has `revision`; returns (present record, fields changed).

    `derived` is written along when anything differs. Raises StaleVersion when someone else changed it first. Call
    inside a transaction.
    """
    present = type(record)._default_manager.get(pk=record.pk)
    seen = getattr(present, "revision")  # noqa: B009 - the models here all have it, Model does not say so
    changed = {name: value for name, value in values.items() if getattr(present, name) != value}
    if not changed:
        return present, frozenset()
    before = {name: getattr(present, name) for name in changed}
    writes = {**changed, **(derived or {}), "revision": F("revision") + 1}
    if not type(record)._default_manager.filter(pk=record.pk, revision=revision).update(**writes):
        words = f"This {noun.replace('_', ' ')} was changed meanwhile: you edited version {revision}, now it is {seen}."
        raise StaleVersion(words)
    present.refresh_from_db()
    record_change(
        act=act,
        noun=noun,
        uid=getattr(present, "uid"),  # noqa: B009
        action="change",
        before={name: _was(name, value, withheld) for name, value in before.items()},
        after={name: _is(name, value, withheld) for name, value in changed.items()},
        property_uid=property_uid,
        note=note,
    )
    return present, frozenset(changed)


def _was(name: str, value: Any, withheld: frozenset[str]) -> Any:
    return WITHHELD if name in withheld else plain(value)


def _is(name: str, value: Any, withheld: frozenset[str]) -> Any:
    return f"{WITHHELD}, changed" if name in withheld else plain(value)


def change_plain(
    record: M, *, act: Act, noun: str, values: Mapping[str, Any], property_uid: UUID | None = None, note: str = ""
) -> tuple[M, frozenset[str]]:
    """As `change_if_unchanged` for a small record without a revision of its own: the last word holds."""
    present = type(record)._default_manager.get(pk=record.pk)
    changed = {name: value for name, value in values.items() if getattr(present, name) != value}
    if not changed:
        return present, frozenset()
    before = {name: plain(getattr(present, name)) for name in changed}
    type(record)._default_manager.filter(pk=record.pk).update(**changed)
    present.refresh_from_db()
    record_change(
        act=act,
        noun=noun,
        uid=getattr(present, "uid"),  # noqa: B009
        action="change",
        before=before,
        after={name: plain(value) for name, value in changed.items()},
        property_uid=property_uid,
        note=note,
    )
    return present, frozenset(changed)


def remove(record: models.Model, *, act: Act, noun: str, values: Mapping[str, Any], at_property: Property) -> None:
    """Delete a record; what it said stays in the history. Doing it twice changes nothing."""
    deleted, _ = type(record)._default_manager.filter(pk=record.pk).delete()
    if deleted:
        record_change(
            act=act,
            noun=noun,
            uid=getattr(record, "uid"),  # noqa: B009
            action="remove",
            before=as_kept(values),
            property_uid=at_property.uid,
        )
