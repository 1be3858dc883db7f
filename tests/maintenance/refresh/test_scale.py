"""5,000 components cost the same queries as 500, and a bearable time."""

import time
from datetime import timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from maintenance import refresh
from maintenance.models import DueWindow, PropertyForecast
from maintenance.read.due import DueFilter, due
from maintenance.window_rows import MOST_ROWS
from tests.maintenance.refresh.yards import AT, TODAY, act, many, set_up

pytestmark = pytest.mark.django_db

CEILING_S = 60.0


def counted(work) -> tuple[int, object]:
    with CaptureQueriesContext(connection) as queries:
        result = work()
    return len(queries), result


def test_computing_5000_components_costs_the_queries_of_500() -> None:
    set_up()
    few, some = many(50, 10), many(450, 10)
    all_of_them = [*few, *some]
    small, first = counted(lambda: refresh.compute(as_of=TODAY, property_ids=few))
    began = time.perf_counter()
    large, found = counted(lambda: refresh.compute(as_of=TODAY, property_ids=all_of_them))
    took = time.perf_counter() - began
    assert small == large
    assert len(found.properties) == 500
    assert not [item for item in found.properties if item.failed]
    assert len({row["component_id"] for item in found.properties for row in item.windows}) > 4000
    assert found.properties[:50] == first.properties, "what is computed beside a property changes nothing"
    assert took < CEILING_S


def test_refreshing_5000_components_costs_the_queries_of_500_but_for_a_transaction_per_5000_rows() -> None:
    set_up()
    few, some = many(50, 10), many(450, 10)
    small, _ = counted(lambda: refresh.refresh_properties(act=act(), property_ids=few))
    DueWindow.objects.all().delete()
    PropertyForecast.objects.all().delete()
    began = time.perf_counter()
    large, done = counted(lambda: refresh.refresh_properties(act=act(), property_ids=[*few, *some]))
    took = time.perf_counter() - began
    rows = DueWindow.objects.count()
    assert done == 500
    assert rows > 5000
    one_group = 7  # savepoint, what is newer, what is there, windows, forecasts, what looked odd, release
    extra = large - small
    groups = extra // one_group
    assert extra == groups * one_group
    assert rows / MOST_ROWS - 1 <= groups <= 2 * rows / MOST_ROWS + 1
    assert took < CEILING_S
    again, _ = counted(lambda: refresh.refresh_properties(act=act(AT + timedelta(1)), property_ids=[*few, *some]))
    assert again <= large + groups + 1


def test_the_due_list_costs_the_same_at_any_length() -> None:
    set_up()
    keys = many(60, 10)
    refresh.refresh_properties(act=act(), property_ids=keys)

    def page(length: int) -> list[object]:
        rows = due(act(), DueFilter(weeks=None))[:length]
        return [
            (row.component.tag, row.property.address, row.planned, row.stale, row.property.forecast) for row in rows
        ]

    one, _ = counted(lambda: page(1))
    hundred, rows = counted(lambda: page(100))
    assert len(rows) == 100
    assert one == hundred
