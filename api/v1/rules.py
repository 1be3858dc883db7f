"""Rules, their versions, and what holds at one property or component alone."""

from typing import Any, ClassVar

import django_filters
from django.db.models import OuterRef, Prefetch, QuerySet, Subquery
from drf_spectacular.utils import extend_schema, extend_schema_field
from rest_framework import serializers
from rest_framework.decorators import action
from rest_framework.request import Request
from rest_framework.response import Response

from api import filters, preconditions, selectors
from api.fields import Choice, JsonObject, Ref, Text, Whole, YesNo
from api.schema import acts, changes, creates, numbers_schema
from api.scoped import Found, Listed, Noun
from api.strict import Shown, Strict
from jobs.kinds import registry
from jobs.kinds.words import TASKS
from jobs.read import visible
from maintenance import rules
from maintenance.models import Rule, RuleOverride, RuleVersion

WHO = ("crew", "owner")


@extend_schema_field(numbers_schema())
class Numbers(JsonObject):
    """Numbers of a rule, by its basis."""


class RuleFields(Strict):
    """What a rule says; each change is a new version. `why` is kept with it."""

    active = YesNo()
    basis = Choice(RuleVersion.Basis.values, required=True)
    standing = Choice(RuleVersion.Standing.values, required=True)
    numbers = Numbers(required=True)
    minutes = Whole(1, 480, "min", required=True)
    who = Choice(WHO)
    words_office = Text(300, required=True)
    words_homeowner = Text(400, required=True)
    source = Text(300, required=True)  # type: ignore[assignment]  # the metaclass takes it off the class
    why = Text(300)


class RuleGiven(RuleFields):
    """A rule of the company's own."""

    code = serializers.RegexField(r"^[a-z][a-z0-9_]{2,59}$", required=False, help_text="Made where left out.")
    kind = Choice(registry.BY_CODE, required=True)
    task = Choice(TASKS, required=True)


class RuleVersionShown(serializers.Serializer):
    """What a rule said from an instant on, and who made it so."""

    active = serializers.BooleanField()
    basis = serializers.ChoiceField(RuleVersion.Basis.choices)
    standing = serializers.ChoiceField(RuleVersion.Standing.choices)
    numbers = serializers.DictField()
    minutes = serializers.IntegerField()
    who = serializers.ChoiceField(WHO)
    words_office = serializers.CharField()
    words_homeowner = serializers.CharField()
    source = serializers.CharField()  # type: ignore[assignment]
    recorded_at = serializers.DateTimeField()
    recorded_by = serializers.CharField()
    recorded_name = serializers.CharField()
    why = serializers.CharField()


class RuleShown(serializers.Serializer):
    """A rule with its newest version."""

    uid = serializers.UUIDField()
    code = serializers.CharField()
    kind = serializers.CharField()
    task = serializers.CharField()
    origin = serializers.CharField()
    version = serializers.SerializerMethodField()

    @extend_schema_field(RuleVersionShown)
    def get_version(self, row: Rule) -> dict[str, Any] | None:
        """What it says now."""
        found = _newest(row)
        return RuleVersionShown(found).data if found else None


class RuleFilter(django_filters.FilterSet):
    kind = filters.Word(registry.CHOICES, field_name="kind")
    task = filters.Word([(code, task.words) for code, task in TASKS.items()], field_name="task")
    origin = filters.Word(["library", "company"], field_name="origin")
    code = filters.Text(60, field_name="code")


def _newest(rule: Rule) -> RuleVersion | None:
    versions = list(rule.versions.all())
    return versions[0] if versions else None


class Rules(Listed, Found, Noun):
    """Rules: when a task is wanted."""

    model = Rule
    visible_to = staticmethod(selectors.rules)
    noun: ClassVar[str] = "rule"
    serializer_class = RuleShown
    filterset_class = RuleFilter

    def get_queryset(self) -> QuerySet[Any]:
        newest = RuleVersion.objects.filter(rule=OuterRef("rule")).order_by("-recorded_at", "-id")
        only = RuleVersion.objects.filter(pk=Subquery(newest.values("pk")[:1]))
        return super().get_queryset().prefetch_related(Prefetch("versions", only))

    def revision_of(self, row: Rule) -> int | None:
        found = _newest(row)
        return found.pk if found else None

    @creates(RuleGiven, RuleShown, key=False)
    def create(self, request: Request) -> Response:
        """Add a rule of the company's own."""
        return self.told(rules.add_rule(act=self.act, **self.given(RuleGiven)).rule)

    @changes(RuleFields, RuleShown)
    def partial_update(self, request: Request, uid: str) -> Response:
        """Change what a rule says, from now on; `active` false switches it off."""
        rule = self.one()
        seen = preconditions.revision_stated(request, self.revision_of(rule) or 0, needed=True)
        fields = self.given(RuleFields, partial=True)
        return self.answer(self.guarded(rules.change_rule, rule, version_id=seen, **fields).rule)

    @extend_schema(responses=RuleVersionShown(many=True), filters=False)
    @action(detail=True, methods=["get"], pagination_class=None)
    def versions(self, request: Request, uid: str) -> Response:
        """Every version of a rule, newest first, with author, date and why."""
        return Response(RuleVersionShown(RuleVersion.objects.filter(rule=self.one()), many=True).data)


class OverrideGiven(Strict):
    """Other numbers for one property or component, or the rule off there."""

    rule = Ref(selectors.rules, required=True)
    property = Ref(visible.properties, required=True)
    component = Ref(visible.components)
    off = YesNo()
    numbers = JsonObject(help_text="Laid over the rule's own.")
    why = Text(300)


class OverrideShown(Shown, OverrideGiven):
    """One entry; the newest of a rule and place holds, `ended` takes it back."""

    uid = serializers.UUIDField()
    ended = YesNo()
    recorded_at = serializers.DateTimeField()
    recorded_by = serializers.CharField()
    recorded_name = serializers.CharField()


class OverrideEnd(Strict):
    """Why it is taken back."""

    why = Text(300)


class OverrideFilter(django_filters.FilterSet):
    rule = filters.Uid(field_name="rule__uid")
    property = filters.Uid(field_name="property__uid")
    component = filters.Uid(field_name="component__uid")


class RuleOverrides(Listed, Found, Noun):
    """Rule overrides, newest first."""

    model = RuleOverride
    visible_to = staticmethod(selectors.rule_overrides)
    noun = "override"
    related = ("rule", "property", "component")
    newest_first = True
    serializer_class = OverrideShown
    filterset_class = OverrideFilter

    @creates(OverrideGiven, OverrideShown, key=False)
    def create(self, request: Request) -> Response:
        """Say what holds at one property or component."""
        return self.told(rules.override_rule(act=self.act, **self.given(OverrideGiven)))

    @acts(OverrideEnd, OverrideShown, status=201)
    @action(detail=True, methods=["post"])
    def end(self, request: Request, uid: str) -> Response:
        """Take an override back: a new entry that ends it."""
        return self.told(rules.end_override(act=self.act, override=self.one(), **self.given(OverrideEnd)))
