"""What ids in the history stand for now, in words: in a number of queries that does not grow with the ids."""

from collections.abc import Collection
from uuid import UUID

from core.act import Act
from jobs.kinds import registry
from jobs.read import visible


def names(act: Act, uids: Collection[UUID]) -> dict[UUID, str]:
    """Names of parts, systems, areas, properties and people among `uids` that this person may see. Five queries."""
    found: dict[UUID, str] = {}
    if not uids:
        return found
    for uid, tag, code in visible.components(act).filter(uid__in=uids).values_list("uid", "tag", "kind"):
        kind = registry.BY_CODE.get(code)
        found[uid] = tag or (kind.name if kind else code)
    for rows, field in (
        (visible.systems(act), "name"),
        (visible.areas(act), "name"),
        (visible.properties(act), "address"),
        (visible.customers(act), "name"),
    ):
        found |= dict(rows.filter(uid__in=uids).values_list("uid", field))
    return found
