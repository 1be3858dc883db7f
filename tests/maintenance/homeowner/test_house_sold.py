"""A role's end takes links, sessions, feeds and waiting mail with it, in one act; what is to come ends by itself."""

from datetime import timedelta

import pytest

from core import outbox, tokens
from core.act import by_system
from core.models import History, Message, Token
from core.problem import Conflict
from maintenance import feeds, home_links, house_sold, night
from maintenance.reminders import people_of
from tests.factories import AT, TODAY, FeedFactory, MessageFactory, PropertyFactory, PropertyRoleFactory, make_cast

pytestmark = pytest.mark.django_db


@pytest.fixture
def cast():
    return make_cast()


def open_doors(cast):
    """A link, a feed and a waiting mail of the homeowner."""
    _, link = tokens.issue(act=cast.act("office"), kind=Token.Kind.LINK, label="t", holder_uid=cast.homeowner.uid)
    _feed, secret = feeds.issue_feed(act=cast.act("homeowner"), kind="homeowner", customer=cast.homeowner)
    mail = MessageFactory(holder_uid=cast.homeowner.uid, property_uid=cast.property.uid)
    return link, secret, mail


def test_everything_ends_with_the_last_role(cast):
    link, secret, mail = open_doors(cast)
    house_sold.end_role(act=cast.act("office"), role=cast.role, until_date=TODAY)
    mail.refresh_from_db()
    assert home_links.find_holder(link, at=AT) is None
    assert Token.objects.get().revoked_at == AT
    assert feeds.find_feed(secret, at=AT).feed.revoked_at == AT
    assert mail.state == Message.State.SKIPPED
    assert people_of(cast.property.pk, on=TODAY) == []
    assert set(History.objects.values_list("action", flat=True)) >= {"change", "revoke", "links_ended"}


def test_another_property_keeps_the_doors_open_and_only_this_mail_goes(cast):
    elsewhere = PropertyRoleFactory(customer=cast.homeowner)
    link, secret, mail = open_doors(cast)
    kept = MessageFactory(holder_uid=cast.homeowner.uid, property_uid=elsewhere.property.uid)
    house_sold.end_role(act=cast.act("office"), role=cast.role, until_date=TODAY)
    mail.refresh_from_db()
    kept.refresh_from_db()
    assert home_links.find_holder(link, at=AT) is not None
    assert not feeds.find_feed(secret, at=AT).gone
    assert (mail.state, kept.state) == (Message.State.SKIPPED, Message.State.PENDING)


def test_a_second_role_at_the_same_property_keeps_its_mail(cast):
    PropertyRoleFactory(property=cast.property, customer=cast.homeowner, role="manager")
    _, _, mail = open_doors(cast)
    house_sold.end_role(act=cast.act("office"), role=cast.role, until_date=TODAY)
    mail.refresh_from_db()
    assert mail.state == Message.State.PENDING


def test_a_day_to_come_ends_everything_on_that_day_and_nothing_before(cast):
    link, secret, _ = open_doors(cast)
    house_sold.end_role(act=cast.act("office"), role=cast.role, until_date=TODAY + timedelta(days=3))
    assert home_links.find_holder(link, at=AT) is not None
    then = AT + timedelta(days=3)
    assert home_links.find_holder(link, at=then) is None
    assert feeds.find_feed(secret, at=then).gone
    assert house_sold.end_leavers(act=cast.act("office")) == 0
    assert house_sold.end_leavers(act=cast.act("office", at=then)) == 1
    assert house_sold.end_leavers(act=cast.act("office", at=then)) == 0
    assert Token.objects.get().revoked_at == then


def test_the_night_ends_the_doors_of_those_who_have_left_and_of_feeds_nobody_reads(cast):
    open_doors(cast)
    house_sold.end_role(act=cast.act("office"), role=cast.role, until_date=TODAY + timedelta(days=1))
    unused = FeedFactory(created_at=AT - timedelta(days=401))
    then = by_system("night", at=AT + timedelta(days=1))
    done = night.run_night(act=then)
    assert (done.leavers, done.unused_feeds) == (1, 1)
    unused.refresh_from_db()
    assert unused.revoked_at == then.at
    assert (night.run_night(act=then).leavers, night.run_night(act=then).unused_feeds) == (0, 0)


def test_no_new_ones_are_opened(cast):
    house_sold.end_role(act=cast.act("office"), role=cast.role, until_date=TODAY)
    assert home_links.mail_new_link(act=cast.act("office"), address=cast.homeowner.email) == 0
    with pytest.raises(Conflict):
        feeds.issue_feed(act=cast.act("office"), kind="homeowner", customer=cast.homeowner)


def test_a_failure_takes_all_of_it_back(cast, monkeypatch):
    link, _secret, _mail = open_doors(cast)
    monkeypatch.setattr(outbox, "skip", lambda **_: (_ for _ in ()).throw(RuntimeError("stop")))
    with pytest.raises(RuntimeError):
        house_sold.end_role(act=cast.act("office"), role=cast.role, until_date=TODAY)
    cast.role.refresh_from_db()
    assert cast.role.until_date is None
    assert home_links.find_holder(link, at=AT) is not None


def test_strangers_things_stay(cast):
    theirs = PropertyFactory()
    role = PropertyRoleFactory(property=theirs, customer=cast.stranger)
    link, secret, _mail = open_doors(cast)
    house_sold.end_role(act=cast.act("office"), role=role, until_date=TODAY)
    assert home_links.find_holder(link, at=AT) is not None
    assert not feeds.find_feed(secret, at=AT).gone
