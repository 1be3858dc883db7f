"""The database itself refuses to change or delete history."""

import pytest
from django.db import connection, transaction
from django.db.utils import DatabaseError

from core.history import install_guard
from core.models import History
from tests import factories


@pytest.fixture
def guarded(db):
    install_guard()
    return factories.HistoryFactory(note="as it was")


def refused(write):
    with pytest.raises(DatabaseError, match="history is append-only"), transaction.atomic():
        write()


def check_append_only(entry):
    refused(lambda: History.objects.filter(pk=entry.pk).update(note="otherwise"))
    refused(lambda: History.objects.filter(pk=entry.pk).delete())
    refused(lambda: entry.save())
    entry.refresh_from_db()
    assert entry.note == "as it was"
    factories.HistoryFactory()
    assert History.objects.count() == 2


def test_history_refuses_update_and_delete(guarded):
    check_append_only(guarded)


@pytest.mark.postgres
@pytest.mark.skipif(connection.vendor != "postgresql", reason="needs DATABASE_URL of a PostgreSQL server")
def test_history_refuses_update_and_delete_on_postgresql(guarded):
    assert connection.vendor == "postgresql"
    check_append_only(guarded)
