"""A rule as a form: its numbers by basis, minutes, who, words, source; and its override at one place."""

from collections.abc import Mapping
from typing import Any, Literal, get_args, get_origin

from django import forms
from pydantic.fields import FieldInfo

from jobs.kinds import registry, words
from jobs.models import Component, Property
from maintenance.decide.rule_numbers import MODELS
from maintenance.models import RuleVersion
from maintenance.read.rule_page import ANCHORS

NUMBER = "n_"
CHOICES = {**ANCHORS, "test": "testing it", "replace": "replacing it"}


def number_fields(basis: str, *, all_optional: bool = False) -> dict[str, forms.Field]:
    """A form field for each number of a basis, under `n_<name>`, with its limits and unit."""
    return {f"{NUMBER}{name}": _field(name, info, all_optional) for name, info in MODELS[basis].model_fields.items()}


def numbers_of(cleaned: Mapping[str, Any]) -> dict[str, Any]:
    """The numbers that were given, by their own names."""
    return {
        name.removeprefix(NUMBER): value
        for name, value in cleaned.items()
        if name.startswith(NUMBER) and value not in (None, "")
    }


def field_names(basis: str) -> dict[str, str]:
    """Where the problems of each number belong: 'numbers.limit_fill' and 'limit_fill' to 'n_limit_fill'."""
    found = {}
    for name in MODELS[basis].model_fields:
        found[name] = found[f"numbers.{name}"] = f"{NUMBER}{name}"
    return found


def _field(name: str, info: FieldInfo, optional: bool) -> forms.Field:
    extra = info.json_schema_extra
    unit = str(extra.get("x-unit", "")) if isinstance(extra, dict) else ""
    label = f"{info.title or name}{f' [{unit}]' if unit else ''}"
    needed = info.is_required() and not optional
    if get_origin(info.annotation) is Literal:
        choices = [(code, CHOICES.get(code, code)) for code in get_args(info.annotation)]
        return forms.ChoiceField(
            label=label, choices=choices if needed else [("", "as it is"), *choices], required=needed
        )
    low, high, told = _limits(info)
    usual = "" if info.is_required() or info.default is None else f" {info.default:g} where nothing is given."
    kind: type[forms.FloatField] = forms.IntegerField if _whole(info) else forms.FloatField  # type: ignore[assignment]
    return kind(label=label, required=needed, min_value=low, max_value=high, help_text=f"{told}{usual}")


def _whole(info: FieldInfo) -> bool:
    return int in (info.annotation, *get_args(info.annotation))


def _limits(info: FieldInfo) -> tuple[float | None, float | None, str]:
    found = {type(one).__name__: one for one in info.metadata}
    low = next((getattr(found[k], k.lower()) for k in ("Ge", "Gt") if k in found), None)
    high = next((getattr(found[k], k.lower()) for k in ("Le", "Lt") if k in found), None)
    more = "more than " if "Gt" in found else ""
    return low, high, f"{more}{low:g} to {high:g}.".capitalize() if low is not None and high is not None else ""


class RuleForm(forms.Form):
    """What a version of a rule says; the number fields of its basis are added."""

    standing = forms.ChoiceField(
        label="Standing",
        choices=[("firm", "firm: always counts"), ("fallback", "fallback: until its own readings say otherwise")],
    )
    minutes = forms.IntegerField(label="On site [min]", min_value=1, max_value=480, help_text="1 to 480.")
    who = forms.ChoiceField(label="Done by", choices=[("crew", "the crew"), ("owner", "the owner")])
    words_office = forms.CharField(label="Words for office and crew", min_length=5, max_length=300)
    words_homeowner = forms.CharField(
        label="Words for the homeowner", min_length=5, max_length=400, widget=forms.Textarea(attrs={"rows": 3})
    )
    source = forms.CharField(
        label="Source",
        min_length=5,
        max_length=300,
        help_text="Number, year and section; or begin with “common practice, no source” or “assumption”.",
    )
    why = forms.CharField(label="Why", max_length=300, help_text="Kept beside the version with your name and the day.")

    def __init__(self, *args: Any, basis: str, **more: Any) -> None:
        super().__init__(*args, **more)
        self.fields = {**number_fields(basis), **self.fields}

    def values(self) -> dict[str, Any]:
        """As maintenance.rules takes them."""
        given = {name: value for name, value in self.cleaned_data.items() if not name.startswith(NUMBER)}
        return {**given, "numbers": numbers_of(self.cleaned_data)}


def first_values(version: RuleVersion) -> dict[str, Any]:
    """What the change form shows first; the reason is left empty."""
    own = {name: getattr(version, name) for name in RuleForm.base_fields if name != "why"}
    return {**own, **{f"{NUMBER}{name}": value for name, value in version.numbers.items()}}


class NewRuleForm(forms.Form):
    """The first step of a new rule: for which part, which task, on what it is based."""

    kind = forms.ChoiceField(label="Part", choices=registry.CHOICES)
    task = forms.ChoiceField(label="Task", choices=[(code, task.words) for code, task in words.TASKS.items()])
    basis = forms.ChoiceField(label="Based on", choices=RuleVersion.Basis.choices)

    def clean(self) -> dict[str, Any]:
        """The task must be one of the part's own."""
        given = super().clean() or {}
        kind = registry.BY_CODE.get(given.get("kind", ""))
        if kind is not None and given.get("task") and given["task"] not in kind.tasks:
            tasks = ", ".join(words.TASKS[code].words for code in kind.tasks)
            self.add_error("task", f"Not a task of {kind.a_name}: choose one of {tasks}.")
        return given


class OverrideForm(forms.Form):
    """Other numbers at one property or part, or the rule off there; an empty number stays as the rule has it."""

    component = forms.ModelChoiceField(
        Component.objects.none(),
        to_field_name="uid",
        required=False,
        label="Where",
        empty_label="all such parts of this property",
    )
    off = forms.BooleanField(label="The rule is off here", required=False)
    why = forms.CharField(label="Why", max_length=300, help_text="Kept with your name and the day.")

    def __init__(self, *args: Any, property: Property, kind: str, basis: str, **more: Any) -> None:
        super().__init__(*args, **more)
        component: Any = self.fields["component"]
        component.queryset = property.components.filter(kind=kind, retired_on=None).order_by("tag_key", "id")
        component.label_from_instance = lambda part: f"{part.tag or 'no tag'} {part.name}".strip()
        why = self.fields.pop("why")
        self.fields |= {**number_fields(basis, all_optional=True), "why": why}
