"""What customers are to properties: owner, tenant, manager."""

import django_filters
from rest_framework.decorators import action
from rest_framework.request import Request
from rest_framework.response import Response

from api import filters
from api.fields import Choice, Day, Ref, Uid, YesNo
from api.schema import acts, changes, creates
from api.scoped import Found, Listed, Noun
from api.strict import Shown, Strict
from jobs import people
from jobs.models import PropertyRole
from jobs.read import visible
from maintenance import house_sold


class RoleFields(Strict):
    """What a person may decide, and whether they are told."""

    agrees_days = YesNo()
    approves_cost = YesNo()
    gets_messages = YesNo()


class RoleGiven(RoleFields):
    """A customer's part in a property from a day on."""

    uid = Uid()
    property = Ref(visible.properties, required=True)
    customer = Ref(visible.customers, required=True)
    role = Choice(PropertyRole.Role.values, required=True)
    from_date = Day(required=True)


class RoleShown(Shown, RoleGiven):
    """A customer's part in a property; `until_date` is the first day without it."""

    until_date = Day()


class RoleEnd(Strict):
    """The first day without the role."""

    until_date = Day(required=True)


class RoleFilter(django_filters.FilterSet):
    property = filters.Uid(field_name="property__uid")
    customer = filters.Uid(field_name="customer__uid")
    role = filters.Word(PropertyRole.Role.choices, field_name="role")
    in_force_on = filters.Day("from_date", "lte", method="filter_in_force", label="Roles that hold on this day.")

    def filter_in_force(self, rows, name, value):
        """Roles that hold on a day."""
        return rows.filter(visible.in_force(value))


class PropertyRoles(Listed, Found, Noun):
    """Roles: what a customer is to a property, from when until when, and what they may decide or are told."""

    model = PropertyRole
    visible_to = staticmethod(visible.roles)
    noun = "role"
    related = ("property", "customer")
    serializer_class = RoleShown
    filterset_class = RoleFilter

    @creates(RoleGiven, RoleShown)
    def create(self, request: Request) -> Response:
        """Give a customer a role at a property."""
        return self.made(people.give_role, self.given(RoleGiven))

    @changes(RoleFields, RoleShown, versioned=False)
    def partial_update(self, request: Request, uid: str) -> Response:
        """Change what this person may decide and is told."""
        return self.changed(people.change_role, RoleFields)

    @acts(RoleEnd, RoleShown)
    @action(detail=True, methods=["post"])
    def end(self, request: Request, uid: str) -> Response:
        """End a role: links, feeds and waiting mail end with it."""
        return self.answer(house_sold.end_role(act=self.act, role=self.one(), **self.given(RoleEnd)))
