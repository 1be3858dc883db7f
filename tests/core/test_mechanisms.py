"""Tokens, settings, files, history and small mechanisms."""

from datetime import date, timedelta

import pytest
from django.db import DatabaseError, connection, transaction

from core import clock, company, files, history, normalise, tokens
from core.act import by_system
from core.models import CompanySettings, History, StoredFile, Token
from core.problem import BadInput
from core.roles import RoleTable
from jobs.models import Property
from tests.factories import AT, OfficeFactory, PropertyFactory

pytestmark = pytest.mark.django_db
ACT = by_system("test", at=AT)


def record(**values):
    return history.record_change(act=ACT, noun="property", uid="0" * 32, action="change", **values)


def test_token_is_found_by_its_text_and_only_its_hash_is_kept():
    user = OfficeFactory()
    token, whole = tokens.issue(act=ACT, kind="api", label="desk", user=user)
    assert tokens.find(whole, kind="api", at=AT) == token
    assert whole not in str(Token.objects.values().get())
    assert tokens.find(whole[:-1] + ("a" if whole[-1] != "a" else "b"), kind="api", at=AT) is None
    assert tokens.find(whole, kind="link", at=AT) is None
    assert tokens.find("nonsense", kind="api", at=AT) is None


def test_token_ends_by_time_by_hand_and_with_its_user():
    user = OfficeFactory()
    token, whole = tokens.issue(act=ACT, kind="api", label="desk", user=user, days=10)
    assert tokens.find(whole, kind="api", at=AT + timedelta(days=10)) is None
    user.is_active = False
    user.save()
    assert tokens.find(whole, kind="api", at=AT) is None
    user.is_active = True
    user.save()
    tokens.revoke(act=ACT, token=token)
    assert tokens.find(whole, kind="api", at=AT) is None


def test_last_use_is_written_at_most_every_ten_minutes():
    token, _ = tokens.issue(act=ACT, kind="api", label="desk", user=OfficeFactory())
    tokens.note_use(token, at=AT)
    token.refresh_from_db()
    tokens.note_use(token, at=AT + timedelta(minutes=5))
    token.refresh_from_db()
    assert token.last_used_at == AT
    tokens.note_use(token, at=AT + timedelta(minutes=11))
    token.refresh_from_db()
    assert token.last_used_at == AT + timedelta(minutes=11)


def test_settings_are_versions_and_the_one_recorded_last_before_governs():
    company.change(act=ACT, name="Invented Drains", units="metric")
    later = by_system("test", at=AT + timedelta(days=1))
    company.change(act=later, tolerance_building=0.1)
    assert company.at(AT - timedelta(seconds=1)).name == "Your drainage company"
    assert company.at(AT).tolerance_building == 0.05
    assert company.at(later.at).tolerance_building == 0.1
    assert company.at(later.at).units == "metric"
    assert CompanySettings.objects.count() == 2
    assert History.objects.filter(noun="settings").count() == 2


def test_bad_settings_are_named():
    with pytest.raises(BadInput) as caught:
        company.change(act=ACT, tolerance_lawn=2, colour="red")
    assert {f.field for f in caught.value.fields} == {"tolerance_lawn", "colour"}


@pytest.mark.parametrize("values", [{"zone": "Atlantis/Deep"}, {"send_time": "09:00+02:00"}])
def test_a_zone_that_does_not_exist_and_a_time_with_offset_are_refused(values):
    with pytest.raises(BadInput):
        company.change(act=ACT, **values)


def test_files_are_kept_once_under_their_digest(settings, tmp_path):
    settings.MEDIA_ROOT = tmp_path
    first = files.store(b"silt", media_type="text/plain", at=AT)
    assert files.store(b"silt", media_type="text/plain", at=AT) == first
    assert files.read(first) == b"silt"
    assert StoredFile.objects.count() == 1
    files.path_of(first.sha256).write_bytes(b"mud!")
    with pytest.raises(ValueError, match="does not match"):
        files.read(first)


def test_sweep_removes_only_old_bytes_without_a_row(settings, tmp_path):
    import os

    settings.MEDIA_ROOT = tmp_path
    kept = files.store(b"kept", media_type="text/plain", at=AT)
    orphan = tmp_path / "ab" / "cd" / ("abcd" + "0" * 60)
    orphan.parent.mkdir(parents=True)
    orphan.write_bytes(b"lost")
    young = AT.timestamp() - 3600
    os.utime(orphan, (young, young))
    assert files.sweep(at=AT) == 0
    old = AT.timestamp() - 90_000
    os.utime(orphan, (old, old))
    os.utime(files.path_of(kept.sha256), (old, old))
    assert files.sweep(at=AT) == 1
    assert files.read(kept) == b"kept"


def test_history_cannot_be_changed_or_removed():
    history.install_guard()
    row = history.record_change(
        act=ACT, noun="property", uid="0" * 32, action="change", before={"a": 1}, after={"a": 2}
    )
    assert row.changes == {"a": [1, 2]}
    for statement in ("UPDATE core_history SET note = 'x'", "DELETE FROM core_history"):
        with pytest.raises(DatabaseError, match="append-only"), transaction.atomic(), connection.cursor() as cursor:
            cursor.execute(statement)
    assert History.objects.count() == 1


def test_history_keeps_secrets_out_and_writes_nothing_for_no_change():
    assert (
        history.record_change(act=ACT, noun="property", uid="0" * 32, action="change", before={"a": 1}, after={"a": 1})
        is None
    )
    row = record(before={"gate_code": "1"}, after={"gate_code": "2"})
    assert row.changes == {"gate_code": ["changed", "changed"]}


def test_gate_codes_are_unreadable_in_the_database():
    PropertyFactory(gate_code="4711#")
    with connection.cursor() as cursor:
        cursor.execute("SELECT gate_code FROM jobs_property")
        stored = cursor.fetchone()[0]
    assert "4711" not in stored
    assert Property.objects.get().gate_code == "4711#"


def test_text_is_folded_for_search():
    assert normalise.folded("Peña  STRASSE ß") == "pena strasse ss"
    assert normalise.line("a\x00b\n c\u202e") == "ab c"
    assert normalise.tag_key(" Ch-1 ") == normalise.tag_key("CH-1")
    assert "5550123" in normalise.search_text("Ann", "555-0123")


def test_what_one_engine_refuses_is_taken_out_however_deep():
    odd = {"a\x00": ["b\ud800c", {"d": "\x00"}, 3, None]}
    assert normalise.storable(odd) == {"a": ["bc", {"d": ""}, 3, None]}
    PropertyFactory(plan=normalise.storable(odd))


def test_end_of_day_is_the_next_local_midnight_on_both_clock_changes():
    zone = "America/New_York"
    assert clock.end_of_day(date(2026, 3, 8), zone).isoformat() == "2026-03-09T04:00:00+00:00"
    assert clock.end_of_day(date(2026, 11, 1), zone).isoformat() == "2026-11-02T05:00:00+00:00"


def test_role_table_refuses_what_it_does_not_list():
    table = RoleTable({"pages:due": {"office": "GET POST"}})
    assert table.allows("office", "pages:due", "POST")
    assert table.allows("office", "pages:due", "HEAD")
    assert not table.allows("crew", "pages:due", "GET")
    assert not table.allows("office", "pages:elsewhere", "GET")
    with pytest.raises(ValueError, match="role 'boss'"):
        RoleTable({"x": {"boss": "GET"}})
