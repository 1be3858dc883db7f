"""Addresses of feeds: found by their secret alone, renewed, ended; by whom they may be made."""

from datetime import timedelta

import pytest

from core.problem import BadInput, Conflict, NotAllowed
from maintenance import feeds
from maintenance.models import Feed
from tests.factories import AT, TODAY, Cast, CustomerFactory, FeedFactory, make_cast

pytestmark = pytest.mark.django_db


@pytest.fixture
def cast() -> Cast:
    return make_cast()


def technician_feed(cast: Cast) -> Feed:
    return feeds.issue_feed(act=cast.act("office"), kind="technician", user=cast.crew)[0]


def test_the_secret_is_found_and_kept_nowhere(cast):
    feed, secret = feeds.issue_feed(act=cast.act("office"), kind="company", label="wall")
    assert secret.startswith("slf_")
    assert len(feeds.address_of(secret)) < 255
    assert secret not in str(Feed.objects.values().get())
    found = feeds.find_feed(secret, at=AT)
    assert (found.feed, found.gone) == (feed, False)


@pytest.mark.parametrize("wrong", ["", "slf_", "slf_000000000000_x", "slt_000000000000_x", "slf_0_0_0"])
def test_unknown(cast, wrong):
    FeedFactory()
    assert feeds.find_feed(wrong, at=AT) is None


def test_a_right_lookup_with_a_wrong_rest_is_unknown(cast):
    _, secret = feeds.issue_feed(act=cast.act("office"), kind="company")
    assert feeds.find_feed(secret[:-1] + ("a" if secret[-1] != "a" else "b"), at=AT) is None


def test_renewing_ends_the_old_one(cast):
    feed, old = feeds.issue_feed(act=cast.act("crew"), kind="technician", user=cast.crew, alarm_minutes=30)
    new, secret = feeds.renew_feed(act=cast.act("crew"), feed=feed)
    assert feeds.find_feed(old, at=AT).gone
    assert not feeds.find_feed(secret, at=AT).gone
    assert (new.user, new.alarm_minutes) == (cast.crew, 30)


def test_a_technician_who_left_and_a_homeowner_without_role_are_gone(cast):
    _, crew = feeds.issue_feed(act=cast.act("office"), kind="technician", user=cast.crew)
    _, home = feeds.issue_feed(act=cast.act("homeowner"), kind="homeowner", customer=cast.homeowner)
    cast.crew.is_active = False
    cast.crew.save()
    cast.role.until_date = TODAY
    cast.role.save()
    assert feeds.find_feed(crew, at=AT).gone
    assert feeds.find_feed(home, at=AT).gone


def test_unused_for_400_days_ends_used_does_not(cast):
    old = AT - timedelta(days=401)
    unused, used = FeedFactory(created_at=old), FeedFactory(created_at=old, last_fetched_at=AT)
    assert feeds.end_unused(act=cast.act("office")) == 1
    unused.refresh_from_db()
    used.refresh_from_db()
    assert unused.revoked_at == AT
    assert used.revoked_at is None


@pytest.mark.parametrize("who", ["other_crew", "stranger", "homeowner"])
def test_nobody_makes_or_ends_another_persons(cast, who):
    feed = technician_feed(cast)
    with pytest.raises(NotAllowed):
        feeds.issue_feed(act=cast.act(who), kind="technician", user=cast.crew)
    with pytest.raises(NotAllowed):
        feeds.revoke_feed(act=cast.act(who), feed=feed)
    with pytest.raises(NotAllowed):
        feeds.issue_feed(act=cast.act(who), kind="company")


def test_no_feed_without_a_role(cast):
    with pytest.raises(Conflict):
        feeds.issue_feed(act=cast.act("office"), kind="homeowner", customer=CustomerFactory())


@pytest.mark.parametrize("bad", [{"kind": "weather"}, {"kind": "technician"}, {"kind": "company", "alarm_minutes": 0}])
def test_bad_wishes_are_named(cast, bad):
    with pytest.raises(BadInput):
        feeds.issue_feed(act=cast.act("office"), **bad)


def test_ten_are_enough(cast):
    for _ in range(10):
        technician_feed(cast)
    with pytest.raises(Conflict):
        technician_feed(cast)
