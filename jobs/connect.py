"""Says where water goes from one component to the next, and takes that back."""

from uuid import UUID

from django.db import IntegrityError, transaction

from core.act import Act
from core.problem import Conflict
from jobs import field_checks as checks
from jobs.drainage_areas import refuse_retired
from jobs.edits import create_once, raise_revision, remove
from jobs.kinds.words import CERTAINTIES
from jobs.models import Component, Connection

CONNECTION: dict[str, checks.Check] = {
    "kind": checks.one_of(Connection.Kind.values),
    "certainty": checks.one_of(CERTAINTIES),
}


def connect(
    *,
    act: Act,
    from_component: Component,
    to_component: Component,
    kind: str = "normal",
    certainty: str = "assumed",
    uid: UUID | None = None,
) -> Connection:
    """Record that water goes from one component to another of the same property; overflow carries only the excess.

    The same connection again is the one there is. What does not fit (kinds, cycles) is kept and shown by the checks.
    Raises BadInput, Conflict (a part was taken out; connected already in another way).
    """
    values = checks.cleaned("connection", CONNECTION, {"kind": kind, "certainty": certainty})
    if from_component.property_id != to_component.property_id or from_component.pk == to_component.pk:
        words = f"to_component is {to_component}: give another component at {from_component.property}."
        checks.refuse_field("to_component", words, str(to_component))
    for part in (from_component, to_component):
        refuse_retired(part, part.retired_on)
    ends = {"from_component": from_component, "to_component": to_component}
    place = from_component.property
    try:
        with transaction.atomic():
            made, new = create_once(
                Connection,
                act=act,
                noun="connection",
                uid=uid,
                values={"property": place, **ends, **values},
                at_property=place,
            )
            if new:
                raise_revision(place.pk)
            return made
    except IntegrityError:
        there = Connection.objects.filter(**ends).first()
    if there is None or there.kind != values["kind"]:
        words = f"{from_component} leads to {to_component} already, in another way: remove that connection first."
        raise Conflict(words, code="connected_already")
    return there


def disconnect(*, act: Act, connection: Connection) -> None:
    """Take a connection back; it stays in the history. Doing it twice changes nothing."""
    kept = {name: getattr(connection, name) for name in ("from_component", "to_component", "kind", "certainty")}
    with transaction.atomic():
        remove(connection, act=act, noun="connection", values=kept, at_property=connection.property)
        raise_revision(connection.property_id)
