"""Calendar feeds: addresses made, renewed and ended one by one."""

import django_filters
from rest_framework import serializers
from rest_framework.decorators import action
from rest_framework.request import Request
from rest_framework.response import Response

from api import filters, selectors
from api.fields import Choice, Moment, Ref, Text, Uid, Whole
from api.schema import acts, creates
from api.scoped import Found, Listed, Noun
from api.strict import Empty, Shown, Strict
from jobs.read import visible
from maintenance import feeds
from maintenance.models import Feed


class FeedGiven(Strict):
    """Whose calendar: a technician's takes `technician`, a homeowner's `customer`, the company's neither."""

    kind = Choice(Feed.Kind.values, required=True)
    technician = Ref(selectors.technicians, source="user")
    customer = Ref(visible.customers)
    label = Text(80)  # type: ignore[assignment]  # the metaclass takes it off the class
    alarm_minutes = Whole(1, 20_160, "min")


class FeedShown(Shown, FeedGiven):
    """A feed; its address is shown once, when it is made."""

    uid = Uid()
    created_at = Moment()
    revoked_at = Moment()
    last_fetched_at = Moment()


class FeedMade(FeedShown):
    """A new feed with its address, shown this once."""

    address = serializers.CharField()


class FeedFilter(django_filters.FilterSet):
    kind = filters.Word(Feed.Kind.choices, field_name="kind")
    technician = filters.Uid(field_name="user__uid")
    customer = filters.Uid(field_name="customer__uid")
    live = filters.Empty(field_name="revoked_at", label="Those that are served.")


class Feeds(Listed, Found, Noun):
    """Calendar feeds, newest first."""

    model = Feed
    visible_to = staticmethod(selectors.feeds)
    noun = "feed"
    newest_first = True
    related = ("user", "customer")
    serializer_class = FeedShown
    filterset_class = FeedFilter

    @creates(FeedGiven, FeedMade, key=False)
    def create(self, request: Request) -> Response:
        """Make a feed; its address is in this answer and nowhere else."""
        return self._made(*feeds.issue_feed(act=self.act, **self.given(FeedGiven)))

    @acts(Empty, FeedMade, status=201)
    @action(detail=True, methods=["post"])
    def renew(self, request: Request, uid: str) -> Response:
        """A new address in place of one that was lost; the old one ends."""
        self.given(Empty)
        return self._made(*feeds.renew_feed(act=self.act, feed=self.one()))

    @acts(Empty, FeedShown)
    @action(detail=True, methods=["post"])
    def revoke(self, request: Request, uid: str) -> Response:
        """End a feed's address now."""
        self.given(Empty)
        feed = self.one()
        feeds.revoke_feed(act=self.act, feed=feed)
        return self.answer(feed)

    def _made(self, feed: Feed, secret: str) -> Response:
        shown = {**FeedShown(self.find(pk=feed.pk)).data, "address": feeds.address_of(secret)}
        return Response(shown, status=201, headers={"Location": self.address(feed), "Cache-Control": "no-store"})
