"""Makes a whole system from a starting layout: components, connections and drainage areas in one transaction."""

from collections.abc import Mapping
from typing import Any
from uuid import UUID

from django.db import transaction

from core.act import Act
from core.problem import BadInput, FieldProblem
from jobs.change_component import add_component
from jobs.connect import connect
from jobs.decide import layouts
from jobs.drainage_areas import add_drainage_area
from jobs.models import Component, Property, System
from jobs.register import create_system


def apply_layout(
    *,
    act: Act,
    property: Property,
    layout: str,
    numbers: Mapping[str, Any],
    system_name: str,
    certainty: str = "assumed",
    uid: UUID | None = None,
    **fields: Any,
) -> System:
    """Begin an as-built: the layout's system with everything it says; `numbers` as jobs/decide/layouts asks them.

    `certainty` is that of the numbers given; `fields` go to the system. The same uid again makes nothing more. Raises
    BadInput with every bad number.
    """
    taken = Component.objects.filter(property=property, retired_on=None).exclude(tag="").values_list("tag", flat=True)
    try:
        draft = layouts.draft(layout, numbers, taken_tags=list(taken), certainty=certainty)
    except layouts.LayoutError as error:
        problems = tuple(FieldProblem(words.split(" ", 1)[0], words) for words in error.problems)
        raise BadInput(str(error), fields=problems) from None
    with transaction.atomic():
        system = create_system(act=act, property=property, name=system_name, uid=uid, **fields)
        if uid is not None and system.components.exists():
            return system
        made: dict[str, Component] = {}
        for part in draft.components:
            made[part.key] = add_component(
                act=act,
                property=property,
                kind=part.kind,
                tag=part.tag,
                dimensions=part.dims,
                certainty=part.certainty,
                system=system,
                sits_in=made.get(part.sits_in),
                part_of=made.get(part.part_of),
                installed_on=system.installed_on,
            )
        for link in draft.connections:
            connect(act=act, from_component=made[link.source], to_component=made[link.target], kind=link.flow)
        for area in draft.areas:
            add_drainage_area(
                act=act,
                component=made[area.component],
                name=area.name,
                surface=area.surface,
                area_ft2=area.area_ft2,
                runoff_c=area.runoff_c,
                concentration_min=area.concentration_min,
                certainty=area.certainty,
            )
    return system
