"""Rain tables: what the computation could not load is never kept, a change makes what hangs on it stale."""

import numpy as np
import pytest

from core.act import by_system, by_user
from core.models import History
from core.problem import BadInput, Conflict, NotAllowed, StaleVersion
from hydraulics.rain import DepthDurationTable
from maintenance import rain_tables, refresh
from maintenance.models import RainTable
from maintenance.read.stale import is_stale, rules_stamp
from tests.factories import AT, AreaFactory, PropertyFactory, UserFactory

pytestmark = pytest.mark.django_db
# Invented for tests; inches, rising with duration (down) and with return period (across).
GOOD = {
    "name": "Fernby (invented)",
    "durations_min": [5, 15, 60],
    "return_years": [2, 10],
    "depths_in": [[0.4, 0.6], [0.8, 1.1], [1.4, 2.1]],
    "source": "invented for tests",
}


@pytest.fixture
def act():
    return by_system("test", at=AT)


def test_a_table_is_kept_once_for_an_area_and_once_for_the_company(act):
    area = AreaFactory()
    own = rain_tables.add_rain_table(act=act, area=area, **GOOD)
    whole = rain_tables.add_rain_table(act=act, **GOOD)
    assert (own.area, whole.area) == (area, None)
    for where in (area, None):
        with pytest.raises(Conflict):
            rain_tables.add_rain_table(act=act, area=where, **GOOD)
    assert RainTable.objects.count() == 2
    assert History.objects.filter(noun="rain_table", action="create").count() == 2


def test_a_change_stands_under_the_same_uid_and_the_old_one_in_the_history(act):
    table = rain_tables.add_rain_table(act=act, **GOOD)
    changed = rain_tables.change_rain_table(act=act, table=table, version_id=table.pk, source="measured anew")
    assert (changed.uid, changed.source, changed.depths_in) == (table.uid, "measured anew", table.depths_in)
    assert RainTable.objects.count() == 1
    entry = History.objects.get(noun="rain_table", action="change")
    assert entry.changes == {"source": ["invented for tests", "measured anew"]}
    with pytest.raises(StaleVersion):
        rain_tables.change_rain_table(act=act, table=table, version_id=table.pk, source="too late")
    same = rain_tables.change_rain_table(act=act, table=changed, version_id=changed.pk, source="measured anew")
    assert same.pk == changed.pk


@pytest.mark.parametrize(
    ("wrong", "field", "said"),
    [
        ({"durations_min": [5, 60, 15]}, "durations_min", "15 min follows 60 min"),
        ({"durations_min": [0.5, 15, 60]}, "durations_min", "0.5 min"),
        ({"return_years": [10, 2]}, "return_years", "2 years follows 10 years"),
        ({"return_years": [2, 5000]}, "return_years", "1000 years"),
        ({"depths_in": [[0.4, 0.6], [0.8, 1.1]]}, "depths_in", "3 rows"),
        ({"depths_in": [[0.4], [0.8], [1.4]]}, "depths_in", "2 depths"),
        ({"depths_in": [[0.6, 0.4], [0.8, 1.1], [1.4, 2.1]]}, "depths_in", "0.4 in follows 0.6 in"),
        ({"depths_in": [[0.4, 0.6], [0.3, 1.1], [1.4, 2.1]]}, "depths_in", "0.3 in at 15 min follows 0.4 in at 5 min"),
        ({"depths_in": [[0, 0.6], [0.8, 1.1], [1.4, 2.1]]}, "depths_in", "more than 0 in"),
        ({"depths_in": [[0.4, float("nan")], [0.8, 1.1], [1.4, 2.1]]}, "depths_in", "nan"),
        ({"depths_in": [[0.4, 79.0], [0.8, 80.0], [1.4, 81.0]]}, "depths_in", "78 in"),
        ({"depths_in": []}, "depths_in", "1 to 40 rows"),
        ({"return_years": [1, 10]}, "depths_in", "return period"),
        ({"source": " "}, "source", "empty"),
        ({"name": "x" * 81}, "name", "81 characters"),
    ],
)
def test_what_is_wrong_is_told_with_its_number_limit_and_unit(act, wrong, field, said):
    with pytest.raises(BadInput) as refused:
        rain_tables.add_rain_table(act=act, **{**GOOD, **wrong})
    assert [problem.field for problem in refused.value.fields] == [field]
    assert said in str(refused.value.detail)
    assert RainTable.objects.count() == 0


def test_the_highest_depth_taken_is_one_the_computation_takes(act):
    depths = [[1.0], [rain_tables.DEPTH_IN[1]]]
    table = rain_tables.add_rain_table(
        act=act, **{**GOOD, "durations_min": [1, 10_080], "return_years": [1000], "depths_in": depths}
    )
    millimetres = np.array(table.depths_in) * 25.4  # 1 in is 25.4 mm exactly (international inch, 1959)
    assert DepthDurationTable(table.durations_min, table.return_years, millimetres, "x").depth(
        10_080, 1000
    ) == pytest.approx(78 * 25.4)


def test_every_change_makes_what_was_computed_with_it_stale(act):
    """Creating, changing and taking away: each time the sweep computes again, and once is enough."""
    home = PropertyFactory()
    table = None
    for step in ("add", "change", "remove"):
        refresh.refresh_all(act=act)
        assert not is_stale(home, act=act)
        before = rules_stamp()
        if step == "add":
            table = rain_tables.add_rain_table(act=act, **GOOD)
        elif step == "change":
            table = rain_tables.change_rain_table(act=act, table=table, version_id=table.pk, source="anew")
        else:
            rain_tables.remove_rain_table(act=act, table=table)
        assert is_stale(home, act=act), step
        assert rules_stamp() != before
    assert refresh.refresh_all(act=act) == 1
    assert not is_stale(home, act=act)


def test_only_the_office_keeps_them(act):
    table = rain_tables.add_rain_table(act=act, **GOOD)
    crew = by_user(UserFactory(), via="api", at=AT)
    with pytest.raises(NotAllowed):
        rain_tables.add_rain_table(act=crew, area=AreaFactory(), **GOOD)
    with pytest.raises(NotAllowed):
        rain_tables.change_rain_table(act=crew, table=table, version_id=table.pk, source="mine")
    with pytest.raises(NotAllowed):
        rain_tables.remove_rain_table(act=crew, table=table)
    assert RainTable.objects.get().source == "invented for tests"
