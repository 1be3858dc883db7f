"""Hazards on site."""

import django_filters
from rest_framework.decorators import action
from rest_framework.request import Request
from rest_framework.response import Response

from api import filters
from api.fields import Choice, Moment, Number, Ref, Text, Uid
from api.schema import acts, changes, creates
from api.scoped import Found, Listed, Noun
from api.strict import Shown, Strict
from jobs import register
from jobs.models import Hazard
from jobs.read import visible


class HazardFields(Strict):
    """What may be corrected of a hazard; position in feet from the named corner."""

    kind = Choice(Hazard.Kind.values, required=True)
    note = Text(400)
    x_ft = Number(-5000, 5000, "ft")
    y_ft = Number(-5000, 5000, "ft")
    depth_in = Number(0, 240, "in")


class HazardGiven(HazardFields):
    """A new hazard."""

    uid = Uid()
    property = Ref(visible.properties, required=True)


class HazardShown(Shown, HazardGiven):
    """Something that can hurt someone or be broken, until it is gone."""

    found_at = Moment()
    gone_at = Moment()


class HazardGone(Strict):
    """Why it is gone, if there is something to say."""

    note = Text(300)


class HazardFilter(django_filters.FilterSet):
    property = filters.Uid(field_name="property__uid")
    kind = filters.Word(Hazard.Kind.choices, field_name="kind")
    gone = filters.Empty(field_name="gone_at", exclude=True, label="Those that are there no more.")


class Hazards(Listed, Found, Noun):
    """Hazards."""

    model = Hazard
    visible_to = staticmethod(visible.hazards)
    noun = "hazard"
    related = ("property",)
    serializer_class = HazardShown
    filterset_class = HazardFilter

    @creates(HazardGiven, HazardShown)
    def create(self, request: Request) -> Response:
        """Record a hazard."""
        return self.made(register.add_hazard, self.given(HazardGiven))

    @changes(HazardFields, HazardShown, versioned=False)
    def partial_update(self, request: Request, uid: str) -> Response:
        """Correct a hazard."""
        return self.changed(register.change_hazard, HazardFields)

    @acts(HazardGone, HazardShown)
    @action(detail=True, methods=["post"])
    def gone(self, request: Request, uid: str) -> Response:
        """Say that a hazard is there no more."""
        return self.answer(register.hazard_gone(act=self.act, hazard=self.one(), **self.given(HazardGone)))
