"""Components in the ground, the kinds they are of, and what replaces them."""

from typing import Any

import django_filters
from drf_spectacular.utils import extend_schema, extend_schema_field
from rest_framework import serializers
from rest_framework.decorators import action
from rest_framework.request import Request
from rest_framework.response import Response

from api import filters
from api.fields import Choice, Day, JsonList, JsonObject, Moment, Number, Ref, Text, Uid, Whole
from api.schema import acts, changes, creates, dimensions_schema
from api.scoped import Found, Listed, Noun
from api.strict import Shown, Strict
from core import limits
from jobs import change_component
from jobs.kinds import registry
from jobs.kinds.words import CERTAINTIES
from jobs.models import Component, Property
from jobs.read import visible
from jobs.replace_component import retire_component
from maintenance.part_replaced import replace_part


@extend_schema_field(dimensions_schema())
class Dimensions(JsonObject):
    """Known dimensions by name, in the units of their names; shown with the kind they belong to."""


@extend_schema_field({"type": "object", "additionalProperties": {"enum": list(CERTAINTIES)}})
class Certainty(JsonObject):
    """measured or assumed, for each known dimension."""


@extend_schema_field(
    {
        "type": "array",
        "maxItems": limits.POINTS_PER_LINE,
        "items": {
            "type": "array",
            "minItems": 2,
            "maxItems": 2,
            "items": {"type": "number", "minimum": -5000, "maximum": 5000},
        },
    }
)
class Place(JsonList):
    """A course on the plan: [[x_ft, y_ft], ...], feet from the named corner."""

    expects = f"at most {limits.POINTS_PER_LINE} points, each [x_ft, y_ft]"


class ComponentFields(Strict):
    """What may be changed of a component. `dimensions` replaces all of them: what is left out is unknown then."""

    tag = Text(limits.TAG)
    name = Text(limits.NAME)
    dimensions = Dimensions()
    certainty = Certainty()
    system = Ref(visible.systems)
    sits_in = Ref(visible.components, help_text="The basin a pump, float, battery or alarm belongs to.")
    part_of = Ref(visible.components, help_text="What a sub-part belongs to.")
    place = Place()
    place_certainty = Choice(CERTAINTIES, allow_blank=True)
    cover_in = Number(0, 240, "in")
    installed_on = Day()
    canopy = Choice(Property.Canopy.values, allow_blank=True)
    slope_reason = Text(200)
    note = Text(limits.NOTE)


class ComponentGiven(ComponentFields):
    """A new component: property and kind are enough."""

    uid = Uid()
    property = Ref(visible.properties, required=True)
    kind = Choice(registry.BY_CODE, required=True)


class ComponentShown(Shown, ComponentGiven):
    """One part of a system. A replaced one is retired and points to its successor."""

    retired_on = Day()
    retired_reason = Text(200)
    retired_because = Choice(Component.End.values, allow_blank=True)
    successor = Ref(visible.components)
    revision = Whole()
    created_at = Moment()

    def to_representation(self, instance: Component) -> dict[str, Any]:
        shown: dict[str, Any] = super().to_representation(instance)
        shown["dimensions"] = {"kind": instance.kind, **instance.dimensions}
        return shown


class ComponentReplace(Strict):
    """A new part in the place of an old one. Without `dimensions` the old ones are taken over as assumed."""

    uid = Uid(help_text="Of the new part, if the client makes it.")
    on = Day(required=True)
    reason = Text(200, required=True)
    because = Choice(Component.End.values, allow_blank=True, help_text="Only a failure counts against its kind's life.")
    dimensions = Dimensions()
    certainty = Certainty()
    name = Text(120)
    note = Text(limits.NOTE)


class ComponentRetire(Strict):
    """Taken out with nothing in its place."""

    on = Day(required=True)
    reason = Text(200, required=True)
    because = Choice(Component.End.values, allow_blank=True, help_text="Only a failure counts against its kind's life.")


class ComponentVersionShown(serializers.Serializer):
    """What was known of a component from an instant on."""

    recorded_at = serializers.DateTimeField()
    data = serializers.DictField()  # type: ignore[assignment]  # the metaclass takes it off the class


class ComponentFilter(django_filters.FilterSet):
    property = filters.Uid(field_name="property__uid")
    system = filters.Uid(field_name="system__uid")
    sits_in = filters.Uid(field_name="sits_in__uid")
    part_of = filters.Uid(field_name="part_of__uid")
    kind = filters.Word(registry.CHOICES, field_name="kind")
    tag = filters.Text(limits.TAG, field_name="tag")
    retired = filters.Empty(field_name="retired_on", exclude=True, label="Those that were taken out.")


class Components(Listed, Found, Noun):
    """Components, those taken out among them."""

    model = Component
    visible_to = staticmethod(visible.components)
    noun = "component"
    related = ("property", "system", "sits_in", "part_of", "successor")
    serializer_class = ComponentShown
    filterset_class = ComponentFilter

    @creates(ComponentGiven, ComponentShown)
    def create(self, request: Request) -> Response:
        """Record a part in the ground."""
        return self.made(change_component.add_component, self.given(ComponentGiven))

    @changes(ComponentFields, ComponentShown)
    def partial_update(self, request: Request, uid: str) -> Response:
        """Change some fields of a component."""
        return self.changed(change_component.change_component, ComponentFields)

    @creates(ComponentReplace, ComponentShown)
    @action(detail=True, methods=["post"])
    def replace(self, request: Request, uid: str) -> Response:
        """Take a part out and put a new one of its kind in its place; answers with the new one."""
        old = self.one()
        return self.made(lambda **given: replace_part(component=old, **given), self.given(ComponentReplace))

    @acts(ComponentRetire, ComponentShown)
    @action(detail=True, methods=["post"])
    def retire(self, request: Request, uid: str) -> Response:
        """Take a part out with nothing in its place."""
        return self.answer(retire_component(act=self.act, component=self.one(), **self.given(ComponentRetire)))

    @extend_schema(responses=ComponentVersionShown(many=True), filters=False)
    @action(detail=True, methods=["get"], pagination_class=None)
    def versions(self, request: Request, uid: str) -> Response:
        """What was known of this component and since when, oldest first."""
        return Response(ComponentVersionShown(self.one().versions.all(), many=True).data)
