"""Where water goes from one component to the next."""

import django_filters
from drf_spectacular.utils import extend_schema
from rest_framework.request import Request
from rest_framework.response import Response

from api import filters
from api.fields import Choice, Ref, Uid
from api.schema import creates
from api.scoped import Found, Listed, Noun
from api.strict import Shown, Strict
from jobs.connect import connect, disconnect
from jobs.kinds.words import CERTAINTIES
from jobs.models import Connection
from jobs.read import visible


class ConnectionGiven(Strict):
    """A new connection within one property."""

    uid = Uid()
    from_component = Ref(visible.components, required=True)
    to_component = Ref(visible.components, required=True)
    kind = Choice(Connection.Kind.values)
    certainty = Choice(CERTAINTIES)


class ConnectionShown(Shown, ConnectionGiven):
    """Water goes from one component to the next; overflow carries only the excess."""

    property = Ref(visible.properties, required=True)


class ConnectionFilter(django_filters.FilterSet):
    property = filters.Uid(field_name="property__uid")
    system = filters.Uid(field_name="from_component__system__uid")
    from_component = filters.Uid(field_name="from_component__uid")
    to_component = filters.Uid(field_name="to_component__uid")
    kind = filters.Word(Connection.Kind.choices, field_name="kind")


class Connections(Listed, Found, Noun):
    """Connections."""

    model = Connection
    visible_to = staticmethod(visible.connections)
    noun = "connection"
    related = ("property", "from_component", "to_component")
    serializer_class = ConnectionShown
    filterset_class = ConnectionFilter

    @creates(ConnectionGiven, ConnectionShown)
    def create(self, request: Request) -> Response:
        """Connect two components."""
        return self.made(connect, self.given(ConnectionGiven))

    @extend_schema(responses={204: None})
    def destroy(self, request: Request, uid: str) -> Response:
        """Take a connection back; it stays in the history."""
        disconnect(act=self.act, connection=self.one())
        return Response(status=204)
