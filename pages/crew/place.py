"""A property for the crew: hazards, what is buried where and how deep, how each part was last found."""

from dataclasses import dataclass
from uuid import UUID

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render

from core.act import Act
from jobs.kinds import dimensions, registry
from jobs.models import Component, Property
from jobs.read import visible, yard
from maintenance.read import part_states
from pages.acting import acting, found


@dataclass(frozen=True, slots=True)
class Buried:
    """One part as the crew needs it: where, how deep, its known sizes with their certainty, its last state."""

    component: Component
    kind_words: str
    where: str
    sizes: tuple[str, ...]
    goes_to: tuple[str, ...]
    holds: tuple[str, ...]
    state: str


@acting
def place(request: HttpRequest, act: Act, uid: UUID) -> HttpResponse:
    """Everything in the ground at a property this technician may see."""
    prop: Property = found(visible.properties(act), uid=uid)
    there = yard.of(act, prop)
    rows = visible.components(act).filter(property=prop, retired_on=None).order_by("id")
    states = {state.component.pk: state.words for state in part_states.of(rows, prop.zone)}
    systems = [
        (system.system.name if system.system else "", [_buried(part, states) for part in system.parts])
        for system in there.systems
    ]
    context = {"property": prop, "yard": there, "systems": systems, "corner": prop.corner}
    return render(request, "crew/place.html", context)


def _buried(part: yard.Part, states: dict[int, str]) -> Buried:
    component = part.component
    return Buried(
        component=component,
        kind_words=part.kind.name if part.kind else component.kind,
        where=_where(component),
        sizes=_sizes(part),
        goes_to=tuple(_named(link.to_component) for link in part.goes_to),
        holds=tuple(_named(held) for held in part.holds),
        state=states.get(component.pk, ""),
    )


def _named(component: Component) -> str:
    return component.tag or registry.get(component.kind).name


def _where(component: Component) -> str:
    points = [f"{x:g} ft, {y:g} ft" for x, y in component.place[:2] + component.place[2:][-1:]]
    told = " to ".join(points)
    if component.cover_in is not None:
        told += f"{'; ' if told else ''}{component.cover_in:g} in of cover"
    return told


def _sizes(part: yard.Part) -> tuple[str, ...]:
    if part.kind is None:
        return ()
    told = []
    for field in dimensions.fields(part.kind):
        value = part.component.dimensions.get(field.name)
        if value is None or field.type == "curve":
            continue
        shown = field.choices.get(value, value) if field.type == "choice" else value
        if field.type == "yes_no":
            shown = "yes" if value else "no"
        text = f"{shown:g}" if isinstance(shown, float) else str(shown)
        sure = "" if part.component.certainty.get(field.name) == "measured" else ", assumed"
        told.append(f"{field.label}: {text} {field.unit}".rstrip() + sure)
    return tuple(told)
