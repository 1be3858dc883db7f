"""Areas: named groups of properties that one trip covers."""

import django_filters
from rest_framework.request import Request
from rest_framework.response import Response

from api import filters
from api.fields import Text, Uid
from api.schema import creates
from api.scoped import Found, Listed, Noun
from api.strict import Shown, Strict
from jobs import register
from jobs.models import Area
from jobs.read import visible


class AreaGiven(Strict):
    """A new area."""

    uid = Uid()
    name = Text(80, required=True)


class AreaShown(Shown, AreaGiven):
    """A named group of properties."""


class AreaFilter(django_filters.FilterSet):
    name = filters.Text(80, field_name="name")


class Areas(Listed, Found, Noun):
    """Areas."""

    model = Area
    visible_to = staticmethod(visible.areas)
    noun = "area"
    serializer_class = AreaShown
    filterset_class = AreaFilter

    @creates(AreaGiven, AreaShown)
    def create(self, request: Request) -> Response:
        """Name an area."""
        return self.made(register.create_area, self.given(AreaGiven))
