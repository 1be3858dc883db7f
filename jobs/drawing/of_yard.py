"""The drawing of a property from everything the register holds there."""

from jobs.drawing.scene import scene
from jobs.drawing.shapes import Drawn, Hazard, Scene
from jobs.read.yard import Part, Yard


def scene_of(yard: Yard) -> Scene:
    """The scene of a loaded yard. Hazards are numbered in their order there. No query."""
    parts = [_drawn(part) for system in yard.systems for part in _with_sub_parts(system.parts)]
    hazards: list[Hazard] = [
        (f"{item.get_kind_display()}{': ' + item.note if item.note else ''}", item.x_ft, item.y_ft, item.depth_in)
        for item in yard.hazards
    ]
    return scene(parts, hazards, yard.property.plan or {}, yard.property.corner)


def _with_sub_parts(parts: tuple[Part, ...]) -> list[Part]:
    return [item for part in parts for item in (part, *part.parts)]


def _drawn(part: Part) -> Drawn:
    row = part.component
    return Drawn(
        tag=row.tag,
        kind=row.kind,
        points=row.place or [],
        dims=row.dimensions,
        inside=_key(row.sits_in_id or row.part_of_id),
        goes_to=[_key(link.to_component_id) for link in part.goes_to],
        cover_in=row.cover_in,
        is_assumed=row.place_certainty == "assumed",
        key=_key(row.pk),
    )


def _key(pk: int | None) -> str:
    return "" if pk is None else str(pk)
