"""Which surface drains to which inlet."""

import django_filters
from drf_spectacular.utils import extend_schema
from rest_framework.request import Request
from rest_framework.response import Response

from api import filters
from api.fields import Choice, Number, Ref, Text, Uid
from api.schema import changes, creates
from api.scoped import Found, Listed, Noun
from api.strict import Shown, Strict
from jobs import register
from jobs.kinds.words import CERTAINTIES
from jobs.models import DrainageArea
from jobs.read import visible


class DrainageAreaFields(Strict):
    """What may be changed of a drainage area."""

    component = Ref(visible.components, required=True, help_text="The inlet the water enters.")
    surface = Choice(DrainageArea.Surface.values, required=True)
    area_ft2 = Number(0, 1_000_000, "ft2", required=True)
    runoff_c = Number(0, 1, required=True)
    concentration_min = Number(5, 1440, "min")
    name = Text(80)
    certainty = Choice(CERTAINTIES)


class DrainageAreaGiven(DrainageAreaFields):
    """A new drainage area."""

    uid = Uid()


class DrainageAreaShown(Shown, DrainageAreaGiven):
    """A surface that drains to a component."""

    property = Ref(visible.properties, required=True)


class DrainageAreaFilter(django_filters.FilterSet):
    property = filters.Uid(field_name="property__uid")
    component = filters.Uid(field_name="component__uid")
    system = filters.Uid(field_name="component__system__uid")
    surface = filters.Word(DrainageArea.Surface.choices, field_name="surface")


class DrainageAreas(Listed, Found, Noun):
    """Drainage areas."""

    model = DrainageArea
    visible_to = staticmethod(visible.drainage_areas)
    noun = "drainage_area"
    related = ("property", "component")
    serializer_class = DrainageAreaShown
    filterset_class = DrainageAreaFilter

    @creates(DrainageAreaGiven, DrainageAreaShown)
    def create(self, request: Request) -> Response:
        """Say which surface drains to an inlet."""
        return self.made(register.add_drainage_area, self.given(DrainageAreaGiven))

    @changes(DrainageAreaFields, DrainageAreaShown, versioned=False)
    def partial_update(self, request: Request, uid: str) -> Response:
        """Correct a drainage area, or say where its water goes now."""
        return self.changed(register.change_drainage_area, DrainageAreaFields)

    @extend_schema(responses={204: None})
    def destroy(self, request: Request, uid: str) -> Response:
        """Take a drainage area out of the register; what it said stays in the history."""
        register.remove_drainage_area(act=self.act, drainage_area=self.one())
        return Response(status=204)
