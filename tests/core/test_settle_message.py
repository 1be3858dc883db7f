"""A person decides about a message that may not have arrived: once, and only where there is a doubt."""

from datetime import timedelta

import pytest

from core import settle_message
from core.models import History
from core.problem import BadInput, Conflict, NotAllowed
from tests.factories import AT, Cast, MessageFactory, make_cast

pytestmark = pytest.mark.django_db


@pytest.fixture
def cast(db) -> Cast:
    return make_cast()


@pytest.mark.parametrize(("how", "state"), [("arrived", "sent"), ("told", "skipped"), ("again", "pending")])
@pytest.mark.parametrize("before", ["unknown", "failed"])
def test_settled_once_with_its_history(cast, before, how, state):
    row = MessageFactory(state=before, closed_at=AT - timedelta(hours=2), attempts=6)
    message_id = row.message_id
    settle_message.settle(act=cast.act("office"), message=row, how=how)
    assert (row.state, row.message_id) == (state, message_id)
    assert History.objects.get(object_uid=row.uid).changes["how"] == [None, how]
    if how == "again":
        assert (row.attempts, row.next_attempt_at, row.closed_at) == (0, AT, None)
    with pytest.raises(Conflict):
        settle_message.settle(act=cast.act("office"), message=row, how=how)


@pytest.mark.parametrize("state", ["pending", "claimed", "sending", "sent", "skipped"])
def test_where_there_is_no_doubt_there_is_nothing_to_settle(cast, state):
    row = MessageFactory(state=state)
    with pytest.raises(Conflict):
        settle_message.settle(act=cast.act("office"), message=row, how="again")
    row.refresh_from_db()
    assert row.state == state


def test_too_late_is_not_sent_again(cast):
    row = MessageFactory(state="failed", not_after=AT - timedelta(minutes=1))
    with pytest.raises(Conflict, match="too late"):
        settle_message.settle(act=cast.act("office"), message=row, how="again")
    settle_message.settle(act=cast.act("office"), message=row, how="told")


def test_nonsense_and_strangers(cast):
    row = MessageFactory(state="unknown")
    with pytest.raises(BadInput):
        settle_message.settle(act=cast.act("office"), message=row, how="forget")
    with pytest.raises(NotAllowed):
        settle_message.settle(act=cast.act("crew"), message=row, how="arrived")
