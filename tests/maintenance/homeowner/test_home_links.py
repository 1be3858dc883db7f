"""A link is used once; a new one goes only to the address on file, and nobody learns whose addresses we know."""

from datetime import timedelta
from uuid import uuid4

import pytest
from django.core import mail

from core import tokens
from core.act import by_customer, by_system
from core.models import History, Message, Token
from core.problem import BadInput, Conflict, NotAllowed
from maintenance import gate_code, home_links, owner_tasks, reminders, told_us
from maintenance.models import CallToMake, DueWindow, TaskDone
from tests.factories import (
    AT,
    TODAY,
    ComponentFactory,
    DueWindowFactory,
    RuleFactory,
    SystemFactory,
    VisitFactory,
    VisitTechnicianFactory,
    make_cast,
)

pytestmark = pytest.mark.django_db


@pytest.fixture
def cast():
    return make_cast()


def link_of(cast, who="homeowner", **more) -> str:
    uid = getattr(cast, who).uid
    return tokens.issue(act=cast.act("office"), kind=Token.Kind.LINK, label="t", holder_uid=uid, **more)[1]


class TestLinks:
    def test_used_once(self, cast):
        link = link_of(cast)
        token, customer = home_links.use_link(act=by_system("link", at=AT), secret=link)
        assert (customer, token.used_at) == (cast.homeowner, AT)
        assert home_links.use_link(act=by_system("link", at=AT), secret=link) is None

    def test_asking_does_not_use_it(self, cast):
        link = link_of(cast)
        for _ in range(2):
            assert home_links.find_holder(link, at=AT)[1] == cast.homeowner

    def test_old_unknown_api_and_empty(self, cast):
        link = link_of(cast, days=1)
        assert home_links.find_holder(link, at=AT + timedelta(days=1)) is None
        api = tokens.issue(act=cast.act("office"), kind=Token.Kind.API, label="t", user=cast.crew)[1]
        for wrong in (api, "", "slh_x", link[:-1]):
            assert home_links.find_holder(wrong, at=AT) is None

    def test_two_at_once_open_one_session(self, cast, monkeypatch):
        """Both found it unused; the conditional update lets one through."""
        link = link_of(cast)
        found = home_links.find_holder(link, at=AT)
        monkeypatch.setattr(home_links, "find_holder", lambda *a, **k: found)
        won = [home_links.use_link(act=by_system("link", at=AT), secret=link) for _ in range(2)]
        assert [w is not None for w in won] == [True, False]


class TestNewLink:
    def test_goes_to_the_address_on_file_once_in_a_while(self, cast):
        act = by_system("link", at=AT)
        assert home_links.mail_new_link(act=act, address=cast.homeowner.email.upper()) == 1
        assert home_links.mail_new_link(act=act, address=cast.homeowner.email) == 0
        assert Message.objects.get().to_address == cast.homeowner.email
        assert (
            home_links.mail_new_link(
                act=by_system("link", at=AT + timedelta(minutes=16)), address=Message.objects.get().to_address
            )
            == 1
        )

    @pytest.mark.parametrize("unknown", ["nobody@home.invalid", "", "no address", "%@home.invalid"])
    def test_unknown_addresses_get_nothing(self, cast, unknown):
        assert home_links.mail_new_link(act=by_system("link", at=AT), address=unknown) == 0
        assert not Message.objects.exists()

    def test_the_mail_carries_a_fresh_link_that_works_and_the_database_does_not(self, cast, monkeypatch):
        monkeypatch.setattr("core.clock.now", lambda: AT)
        home_links.mail_new_link(act=by_system("link", at=AT), address=cast.homeowner.email)
        assert reminders.send_due(act=by_system("outbox", at=AT)) == 1
        (sent,) = mail.outbox
        assert sent.to == [cast.homeowner.email]
        secret = sent.body.split("/home/")[1].split("/")[0]
        assert home_links.find_holder(secret, at=AT)[1] == cast.homeowner
        assert secret not in Message.objects.get().text


class TestOwnerTasks:
    @pytest.fixture
    def window(self, cast):
        part = ComponentFactory(system=SystemFactory(property=cast.property), kind="outfall", tag="OF-1")
        RuleFactory(
            kind="outfall",
            task="clear_outfall",
            version__numbers={"every_months": 3.0},
            version__who="owner",
        )
        return DueWindowFactory(component=part, task="clear_outfall", who="owner", best_on=TODAY)

    def test_done_moves_the_next_date(self, cast, window):
        act = cast.act("homeowner")
        done = owner_tasks.mark_done(act=act, component=window.component, task="clear_outfall", uid=uuid4())
        assert (done.by, done.done_on, done.outcome) == (f"customer:{cast.homeowner.uid}", TODAY, "done")
        later = DueWindow.objects.get(component=window.component, task="clear_outfall")
        assert later.best_on > TODAY
        assert History.objects.filter(action="owner_task", property_uid=cast.property.uid).count() == 1

    def test_twice_the_same_is_once(self, cast, window):
        uid = uuid4()
        for _ in range(2):
            owner_tasks.mark_done(act=cast.act("homeowner"), component=window.component, task="clear_outfall", uid=uid)
        assert TaskDone.objects.count() == 1
        with pytest.raises(Conflict):
            owner_tasks.mark_done(act=cast.act("homeowner"), component=window.component, task="other", uid=uid)

    def test_not_a_strangers_nor_what_is_not_asked(self, cast, window):
        with pytest.raises(NotAllowed):
            owner_tasks.mark_done(
                act=cast.act("stranger"), component=window.component, task="clear_outfall", uid=uuid4()
            )
        with pytest.raises(NotAllowed):
            owner_tasks.mark_done(act=cast.act("crew"), component=window.component, task="clear_outfall", uid=uuid4())
        with pytest.raises(Conflict):
            owner_tasks.mark_done(act=cast.act("homeowner"), component=window.component, task="replace", uid=uuid4())
        assert not TaskDone.objects.exists()


class TestTellUs:
    def test_becomes_a_call_once(self, cast):
        uid = uuid4()
        for _ in range(2):
            told_us.tell_us(act=cast.act("homeowner"), property=cast.property, note=" The grate\nrattles ", uid=uid)
        call = CallToMake.objects.get()
        assert (call.reason, call.note, call.customer) == ("told_us", "The grate rattles", cast.homeowner)

    @pytest.mark.parametrize("note", ["", "   ", "x" * 401])
    def test_empty_and_too_long_are_named(self, cast, note):
        with pytest.raises(BadInput):
            told_us.tell_us(act=cast.act("homeowner"), property=cast.property, note=note, uid=uuid4())

    def test_not_about_a_strangers_property(self, cast):
        with pytest.raises(NotAllowed):
            told_us.tell_us(act=cast.act("stranger"), property=cast.property, note="hello", uid=uuid4())


class TestGateCode:
    @pytest.fixture
    def visit(self, cast):
        cast.property.gate_code = "4711#"
        cast.property.save()
        made = VisitFactory(property=cast.property, state="agreed", local_date=TODAY)
        VisitTechnicianFactory(visit=made, user=cast.crew)
        return made

    def test_each_look_is_written_down_without_the_code(self, cast, visit):
        assert gate_code.show_gate_code(act=cast.act("crew"), visit=visit) == "4711#"
        entry = History.objects.get(action="gate_code_shown")
        assert (entry.who, entry.property_uid) == (f"user:{cast.crew.uid}", cast.property.uid)
        assert "4711" not in str(entry.changes)

    def test_not_for_others_nor_long_before_or_after(self, cast, visit):
        with pytest.raises(NotAllowed):
            gate_code.show_gate_code(act=cast.act("other_crew"), visit=visit)
        for days in (-2, 2):
            with pytest.raises(NotAllowed):
                gate_code.show_gate_code(act=cast.act("crew", at=AT + timedelta(days=days)), visit=visit)
        assert not History.objects.filter(action="gate_code_shown").exists()
        assert by_customer(cast.homeowner).role == "homeowner"
