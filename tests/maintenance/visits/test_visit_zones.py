"""A change of a zone's rules moves the instant of a visit, never its wall time."""

from datetime import UTC, datetime, time, timedelta

import pytest

from core.act import by_system
from maintenance.models import Visit
from maintenance.visit_zones import recompute_starts
from tests.factories import AT, TODAY, VisitFactory

pytestmark = pytest.mark.django_db


def test_instants_follow_the_zone_data_and_sequence_does_not():
    right = datetime(2026, 5, 14, 12, tzinfo=UTC)  # 08:00 in New York, UTC-4
    values = {"state": "agreed", "local_date": TODAY + timedelta(days=10), "local_start": time(8)}
    wrong = VisitFactory(**values, starts_at=right + timedelta(hours=1))
    kept = VisitFactory(**values, starts_at=right)
    past = VisitFactory(**{**values, "local_date": TODAY - timedelta(days=9)}, starts_at=right)
    act = by_system("zones", at=AT)
    assert recompute_starts(act=act) == 1
    assert recompute_starts(act=act) == 0
    wrong.refresh_from_db()
    assert (wrong.starts_at, wrong.local_start, wrong.revision, wrong.sequence) == (right, time(8), 2, 0)
    assert wrong.changed_at > AT
    assert list(Visit.objects.filter(pk__in=[kept.pk, past.pk]).values_list("revision", flat=True)) == [1, 1]
