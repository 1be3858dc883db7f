"""Parts of a property as the choices of a form."""

from collections.abc import Collection

from core import normalise
from jobs.kinds import registry
from jobs.models import Component, Property
from pages.office.register.editing import About, prop_of


def part_words(part: Component) -> str:
    """'CB-1, catch basin'; by its name, or its kind alone, where it has no tag."""
    kind = registry.BY_CODE.get(part.kind)
    return ", ".join(filter(None, (part.tag or part.name, kind.name if kind else part.kind)))


def others(about: About, kinds: Collection[str] = (), *, present: Component | None = None) -> list[tuple[str, str]]:
    """(uid, words) of the parts in the ground there, of `kinds` or of all but sub-parts.

    `present`, the one chosen now, stays a choice though it was taken out.
    """
    wanted = kinds or [kind.code for kind in registry.ALL if not kind.is_part]
    rows = prop_of(about).components.filter(retired_on=None, kind__in=wanted).order_by("tag_key", "id")
    own = getattr(about.record, "pk", None)
    known = [
        (str(row.uid), part_words(row)) for row in rows if not isinstance(about.record, Component) or row.pk != own
    ]
    if present is not None and present.retired_on is not None:
        known.insert(0, (str(present.uid), f"{part_words(present)}, taken out"))
    return [("", "none"), *known]


def free_tag(prop: Property, prefix: str) -> str:
    """The next tag with this prefix that no part in the ground there has: CH-2 after CH-1."""
    taken = set(prop.components.filter(retired_on=None).values_list("tag_key", flat=True))
    number = 1
    while normalise.tag_key(f"{prefix}-{number}") in taken:
        number += 1
    return f"{prefix}-{number}"
