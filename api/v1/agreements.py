"""Service agreements."""

import django_filters
from rest_framework.decorators import action
from rest_framework.request import Request
from rest_framework.response import Response

from api import filters, selectors
from api.fields import Day, Moment, Ref, Refs, Text, Uid, Whole, YesNo
from api.schema import acts, changes, creates
from api.scoped import Found, Listed, Noun
from api.strict import Shown, Strict
from core import limits
from jobs.read import visible as register
from maintenance import agreements
from maintenance.models import ServiceAgreement
from maintenance.read import visible


class AgreementFields(Strict):
    """What may be changed of an agreement. Both days count."""

    customer = Ref(register.customers)
    price_cents = Whole(0, agreements.PRICE_HIGH_CENTS, "cents", allow_null=False)
    starts_on = Day(required=True)
    ends_on = Day(required=True)
    renews = YesNo()
    rules = Refs(selectors.rules, help_text="Rules whose visits it covers.")
    note = Text(limits.NOTE)


class AgreementGiven(AgreementFields):
    """A new agreement."""

    property = Ref(register.properties, required=True)


class AgreementShown(Shown, AgreementGiven):
    """What a customer has agreed to for a year."""

    uid = Uid()
    revision = Whole()
    created_at = Moment()


class AgreementCancel(Strict):
    """The last day, and why."""

    on = Day(required=True)
    why = Text(200, required=True)


class AgreementFilter(django_filters.FilterSet):
    property = filters.Uid(field_name="property__uid")
    customer = filters.Uid(field_name="customer__uid")
    rule = filters.Uid(field_name="rules__uid", distinct=True)
    starts_by = filters.Day("starts_on", "lte")
    ends_from = filters.Day("ends_on", "gte")


class ServiceAgreements(Listed, Found, Noun):
    """Service agreements."""

    model = ServiceAgreement
    visible_to = staticmethod(visible.agreements)
    noun = "agreement"
    related = ("property", "customer")
    prefetched = ("rules",)
    serializer_class = AgreementShown
    filterset_class = AgreementFilter

    @creates(AgreementGiven, AgreementShown, key=False)
    def create(self, request: Request) -> Response:
        """Record an agreement; one runs at a property at a time."""
        return self.told(agreements.create_agreement(act=self.act, **self.given(AgreementGiven)))

    @changes(AgreementFields, AgreementShown)
    def partial_update(self, request: Request, uid: str) -> Response:
        """Change some fields of an agreement."""
        return self.changed(agreements.change_agreement, AgreementFields)

    @acts(AgreementCancel, AgreementShown)
    @action(detail=True, methods=["post"])
    def cancel(self, request: Request, uid: str) -> Response:
        """End an agreement early; it stays on record."""
        return self.answer(
            agreements.cancel_agreement(act=self.act, agreement=self.one(), **self.given(AgreementCancel))
        )
