"""What looks odd and nobody has settled yet, for the pages."""

from __future__ import annotations

from collections.abc import Iterable

from django.db.models import Exists, OuterRef, Q, QuerySet
from django.db.models.functions import Coalesce

from core.act import Act
from jobs.read import visible
from maintenance.forecast.oddities import ODD_WORDS
from maintenance.forecast.reasons import told
from maintenance.forecast.records import Reason
from maintenance.models import OddReading
from maintenance.read.id_list import ids_in


def judgements(act: Act) -> QuerySet[OddReading]:
    """Every judgement at visible properties, newest first. Homeowners see none."""
    if act.role == "homeowner":
        return OddReading.objects.none()
    return visible.limited(act, OddReading.objects.all(), "component__property")


def waiting(act: Act, component_ids: Iterable[int] | None = None) -> QuerySet[OddReading]:
    """What looks odd now and waits for a person's decision, of these parts (of all if None), newest first.

    One row for each reading and code: its newest, if that says odd and nobody has settled it.
    """
    rows = judgements(act).filter(verdict=OddReading.Verdict.ODD)
    if component_ids is not None:
        rows = rows.filter(component_id__in=ids_in(component_ids))
    rows = rows.annotate(of_reading=Coalesce("reading_id", 0))
    same = OddReading.objects.annotate(of_reading=Coalesce("reading_id", 0)).filter(
        component_id=OuterRef("component_id"), code=OuterRef("code"), of_reading=OuterRef("of_reading")
    )
    later = Q(recorded_at__gt=OuterRef("recorded_at")) | Q(recorded_at=OuterRef("recorded_at"), id__gt=OuterRef("id"))
    return rows.filter(~Exists(same.filter(later | Q(by_person=True)))).select_related("component", "reading")


def words(judgement: OddReading) -> str:
    """What looks odd, in plain English."""
    return ODD_WORDS[judgement.code] % told(Reason(judgement.code, tuple(judgement.params.items())))
