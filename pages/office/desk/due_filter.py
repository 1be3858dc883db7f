"""The filter above the due list, as a form that is sent by GET."""

from typing import Any

from django import forms

from core.models import User
from jobs.kinds import registry
from jobs.models import Area
from maintenance.read.due import DueFilter

WEEKS = (("2", "2 weeks"), ("4", "4 weeks"), ("8", "8 weeks"), ("13", "13 weeks"), ("26", "26 weeks"), ("52", "a year"))
USUAL_WEEKS = "8"


class DueForm(forms.Form):
    """Weeks ahead, kind, technician, area, who does it, and whether it stands in a visit."""

    weeks = forms.ChoiceField(choices=WEEKS, required=False, initial=USUAL_WEEKS, label="Best day within")
    kind = forms.ChoiceField(choices=[("", "any part"), *registry.CHOICES], required=False, label="Part")
    technician = forms.ModelChoiceField(
        User.objects.none(), to_field_name="uid", required=False, empty_label="anyone", label="Planned for"
    )
    area = forms.ModelChoiceField(
        Area.objects.none(), to_field_name="uid", required=False, empty_label="any area", label="Area"
    )
    who = forms.ChoiceField(
        choices=[("crew", "the crew"), ("owner", "the owner"), ("both", "both")],
        required=False,
        initial="crew",
        label="Done by",
    )
    planned = forms.ChoiceField(
        choices=[("", "all"), ("no", "not on a visit yet"), ("yes", "on a visit"), ("late", "past its latest day")],
        required=False,
        label="Show",
    )

    def __init__(self, *args: Any, **more: Any) -> None:
        super().__init__(*args, **more)
        fields: Any = self.fields
        technician, area = fields["technician"], fields["area"]
        technician.queryset = User.objects.filter(role=User.Role.CREW, is_active=True).order_by("first_name", "id")
        technician.label_from_instance = lambda user: user.display_name
        area.queryset = Area.objects.order_by("name")

    def wanted(self) -> DueFilter:
        """What the list asks the database for."""
        given = self.cleaned_data
        planned = {"yes": True, "no": False}.get(given["planned"])
        technician, area = given["technician"], given["area"]
        return DueFilter(
            weeks=int(given["weeks"] or USUAL_WEEKS),
            kind=given["kind"],
            who={"owner": "owner", "both": ""}.get(given["who"], "crew"),
            technician_id=technician.pk if technician else None,
            area_id=area.pk if area else None,
            planned=planned,
            overdue=given["planned"] == "late",
        )

    def span_words(self) -> str:
        """'8 weeks', as the sentence above the list says it."""
        chosen = self.data.get("weeks", "") if self.is_bound else ""
        return dict(WEEKS).get(chosen, "8 weeks").replace("a year", "52 weeks")
