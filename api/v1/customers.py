"""Customers."""

from typing import ClassVar

import django_filters
from django.conf import settings
from rest_framework.request import Request
from rest_framework.response import Response

from api import filters
from api.fields import Choice, Moment, Text, Uid, Whole
from api.schema import changes, creates
from api.scoped import Found, Listed, Noun
from api.strict import Shown, Strict
from core import limits
from jobs import people
from jobs.models import Customer
from jobs.read import visible


class CustomerFields(Strict):
    """What may be changed of a customer."""

    name = Text(limits.NAME, required=True)
    kind = Choice(Customer.Kind.values)
    email = Text(limits.EMAIL)
    phone = Text(limits.PHONE)
    language = Choice([code for code, _ in settings.LANGUAGES])
    note = Text(limits.NOTE)


class CustomerGiven(CustomerFields):
    """A new customer."""

    uid = Uid()


class CustomerShown(Shown, CustomerFields):
    """A person or an association."""

    uid = Uid()
    revision = Whole()
    created_at = Moment()


class CustomerFilter(django_filters.FilterSet):
    kind = filters.Word(Customer.Kind.choices, field_name="kind")
    email = filters.Text(limits.EMAIL, field_name="email", lookup_expr="iexact")
    property = filters.Uid(field_name="roles__property__uid", distinct=True)


class Customers(Listed, Found, Noun):
    """Customers: persons and associations, reached by e-mail or phone."""

    model = Customer
    visible_to = staticmethod(visible.customers)
    noun: ClassVar[str] = "customer"
    serializer_class = CustomerShown
    filterset_class = CustomerFilter

    @creates(CustomerGiven, CustomerShown)
    def create(self, request: Request) -> Response:
        """Record a customer."""
        return self.made(people.create_customer, self.given(CustomerGiven))

    @changes(CustomerFields, CustomerShown)
    def partial_update(self, request: Request, uid: str) -> Response:
        """Change some fields of a customer."""
        return self.changed(people.change_customer, CustomerFields)
