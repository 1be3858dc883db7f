"""Readings that look odd: kept as judgements beside them, recomputed with the windows, settled by a person.

Nothing is thrown away. A reading a person finds wrong is withdrawn by a later row and teaches nothing from then on.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import Final

from django.db import transaction

from core.act import Act
from core.dispatch import after_commit
from core.history import record_change
from core.problem import Conflict
from jobs import field_checks as checks
from jobs.edits import raise_revision
from jobs.models import Property
from maintenance.models import OddReading, Reading
from maintenance.read.id_list import ids_in
from maintenance.read.windows import ComputedProperty, OddFound

Key = tuple[int, int | None, str]

DECISIONS: Final = (OddReading.Verdict.SOUND, OddReading.Verdict.WRONG)


def record(*, act: Act, computed: Iterable[ComputedProperty]) -> int:
    """Append a judgement where one is new or no longer holds; returns how many. Call inside the windows' transaction.

    The same result again appends nothing, and what a person has settled stays settled. Two queries at most.
    """
    found: dict[Key, OddFound] = {}
    places = []
    for item in computed:
        places.append(item.property_id)
        found |= {(one.component_id, one.reading_id, one.code): one for one in item.odd}
    standing: dict[Key, str] = {}
    settled: set[Key] = set()
    rows = OddReading.objects.filter(component__property__in=ids_in(places)).order_by("recorded_at", "id")
    for component, reading, code, verdict, by_person in rows.values_list(
        "component_id", "reading_id", "code", "verdict", "by_person"
    ):
        key = (component, reading, code)
        standing[key] = verdict
        if by_person:
            settled.add(key)
    new = [
        _row(act, key, OddReading.Verdict.ODD, one)
        for key, one in found.items()
        if key not in settled and standing.get(key) != OddReading.Verdict.ODD
    ]
    gone = [
        _row(act, key, OddReading.Verdict.GONE, None)
        for key, verdict in standing.items()
        if verdict == OddReading.Verdict.ODD and key not in found and key not in settled
    ]
    return len(OddReading.objects.bulk_create(new + gone, batch_size=500))


def _row(act: Act, key: Key, verdict: OddReading.Verdict, one: OddFound | None) -> OddReading:
    component, reading, code = key
    return OddReading(
        component_id=component,
        reading_id=reading,
        code=code,
        params=dict(one.params) if one else {},
        verdict=verdict,
        recorded_at=act.at,
        recorded_by=act.who,
    )


def settle(*, act: Act, judgement: OddReading, verdict: str, note: str = "") -> OddReading:
    """A person's decision on what looked odd: "sound" (odd but right) or "wrong" (the reading is withdrawn).

    The same decision again changes nothing. Raises BadInput for another verdict, or "wrong" said of a part rather than
    a reading; Conflict where someone has decided otherwise meanwhile.
    """
    table = {"verdict": checks.one_of(DECISIONS), "note": checks.line(200)}
    values = checks.cleaned("odd reading", table, {"verdict": verdict, "note": note})
    if values["verdict"] == OddReading.Verdict.WRONG and judgement.reading_id is None:
        checks.refuse_field("verdict", "verdict is wrong: only a reading can be; for a part say sound.", verdict)
    place = judgement.component.property
    with transaction.atomic():
        # Held until commit: two people deciding at once, or a refresh meanwhile, wait here.
        Property.objects.select_for_update().get(pk=place.pk)
        earlier = _decided(judgement)
        if earlier is not None:
            if earlier.verdict == values["verdict"]:
                return earlier
            words = f"{earlier.get_verdict_display()} was decided meanwhile: look again."
            raise Conflict(words[0].upper() + words[1:], code="decided_already")
        made = OddReading.objects.create(
            component_id=judgement.component_id,
            reading_id=judgement.reading_id,
            code=judgement.code,
            params=judgement.params,
            verdict=values["verdict"],
            by_person=True,
            recorded_at=act.at,
            recorded_by=act.who,
            note=values["note"],
        )
        if made.verdict == OddReading.Verdict.WRONG and judgement.reading is not None:
            _withdraw(act, judgement.reading, values["note"])
        record_change(
            act=act,
            noun="reading" if judgement.reading is not None else "component",
            uid=judgement.reading.uid if judgement.reading is not None else judgement.component.uid,
            action=made.verdict,
            after={"judgement": judgement.code, "note": values["note"]},
            property_uid=place.uid,
        )
        raise_revision(place.pk)
        after_commit("maintenance.tasks.refresh_property", place.pk)
    return made


def _decided(judgement: OddReading) -> OddReading | None:
    rows = OddReading.objects.filter(
        component=judgement.component, reading=judgement.reading, code=judgement.code, by_person=True
    )
    return rows.order_by("-recorded_at", "-id").first()


def _withdraw(act: Act, reading: Reading, why: str) -> None:
    """A later row that takes the reading back, once."""
    if not Reading.objects.filter(withdraws=reading).exists():
        Reading.objects.create(
            component_id=reading.component_id,
            code=reading.code,
            text=why,
            moment=reading.moment,
            measured_at=act.at,
            recorded_at=act.at,
            measured_by=act.who,
            entered_by=act.who,
            withdraws=reading,
        )
