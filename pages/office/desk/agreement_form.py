"""A service agreement as a form: dates, price, who pays, the rules it covers."""

from datetime import date
from decimal import Decimal
from typing import Any

from django import forms
from django.db.models import OuterRef, Q, Subquery

from jobs.kinds import registry, words
from jobs.models import Customer, Property
from maintenance.agreements import PRICE_HIGH_CENTS
from maintenance.models import Rule, RuleVersion, ServiceAgreement


def _day(label: str, told: str) -> forms.DateField:
    return forms.DateField(
        label=label, help_text=told, widget=forms.DateInput(format="%Y-%m-%d", attrs={"type": "date"})
    )


class AgreementForm(forms.Form):
    """What was agreed for a year."""

    customer = forms.ModelChoiceField(
        Customer.objects.none(), to_field_name="uid", required=False, label="Agreed with", empty_label="nobody named"
    )
    price = forms.DecimalField(
        label="Price of the year [dollars]",
        min_value=0,
        max_value=Decimal(PRICE_HIGH_CENTS) / 100,
        decimal_places=2,
        help_text="Dollars and cents.",
    )
    starts_on = _day("First day", "Included.")
    ends_on = _day("Last day", "Included.")
    renews = forms.BooleanField(label="Renews by itself", required=False)
    rules = forms.ModelMultipleChoiceField(
        Rule.objects.none(),
        to_field_name="code",
        required=False,
        label="Rules covered",
        widget=forms.CheckboxSelectMultiple,
        help_text="Visits whose tasks these rules ask for are covered; others are chargeable.",
    )
    note = forms.CharField(label="Note", required=False, max_length=4000, widget=forms.Textarea(attrs={"rows": 3}))

    def __init__(
        self,
        *args: Any,
        property: Property,
        today: date,
        agreement: ServiceAgreement | None = None,
        **more: Any,
    ) -> None:
        """People and rules of the property; those an agreement names already stay to be chosen."""
        super().__init__(*args, **more)
        known = Q(pk=agreement.customer_id) if agreement and agreement.customer_id else Q()
        covered = Q(pk__in=agreement.rules.values("pk")) if agreement else Q()
        there = Q(until_date=None) | Q(until_date__gt=today)
        people = property.roles.filter(there, from_date__lte=today).values("customer")
        fields: Any = self.fields
        customer, rules = fields["customer"], fields["rules"]
        customer.queryset = Customer.objects.filter(Q(pk__in=people) | known).order_by("name", "id")
        customer.label_from_instance = lambda row: row.name
        kinds = property.components.filter(retired_on=None).values("kind")
        newest = RuleVersion.objects.filter(rule=OuterRef("pk")).order_by("-recorded_at", "-id")
        crews = Rule.objects.annotate(by=Subquery(newest.values("who")[:1])).filter(
            Q(by="crew", kind__in=kinds) | covered
        )
        rules.queryset = crews.order_by("kind", "task", "code")
        rules.label_from_instance = rule_words

    def values(self) -> dict[str, Any]:
        """As maintenance.agreements takes them."""
        given = {name: value for name, value in self.cleaned_data.items() if name != "price"}
        return {**given, "rules": list(given["rules"]), "price_cents": int(self.cleaned_data["price"] * 100)}


class EndForm(forms.Form):
    """The end of an agreement."""

    on = _day("Its last day", "It covers nothing afterwards and does not renew.")
    why = forms.CharField(label="Why it ends", max_length=300, help_text="Kept in the history.")
    sure = forms.BooleanField(label="Yes, end it")


def rule_words(rule: Rule) -> str:
    """'catch basin: clean (catch_basin_half)'."""
    kind, task = registry.BY_CODE.get(rule.kind), words.TASKS.get(rule.task)
    return f"{kind.name if kind else rule.kind}: {task.words if task else rule.task} ({rule.code})"


def first_values(row: ServiceAgreement) -> dict[str, Any]:
    """What the form shows first."""
    return {
        "customer": row.customer.uid if row.customer else None,
        "price": f"{row.price_cents / 100:.2f}",
        "starts_on": row.starts_on,
        "ends_on": row.ends_on,
        "renews": row.renews,
        "rules": list(row.rules.values_list("code", flat=True)),
        "note": row.note,
    }
