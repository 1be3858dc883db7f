"""Addresses of the desk: due, week, visits, messages, calls, reviews, rules, company."""

from django.urls import path

from pages.office.desk import agreements, calls, company, due, feeds, messages, rain, reviews, tokens, visit, week

urlpatterns = [
    path("due/", due.due, name="due"),
    path("due/propose/", due.propose_visits, name="due_propose"),
    path("week/", week.week, name="week"),
    path("week/<uuid:uid>/move/", week.move_line, name="week_move"),
    path("visits/", visit.visit_list, name="visits"),
    path("visits/<uuid:uid>/", visit.visit, name="visit"),
    path("visits/<uuid:uid>/<slug:step>/", visit.step, name="visit_step"),
    path("company/", company.company, name="company"),
    path("company/tokens/", tokens.tokens, name="tokens"),
    path("company/tokens/<uuid:uid>/revoke/", tokens.revoke, name="token_revoke"),
    path("company/feeds/", feeds.feeds, name="feeds"),
    path("company/feeds/<uuid:uid>/renew/", feeds.renew, name="feed_renew"),
    path("company/feeds/<uuid:uid>/revoke/", feeds.revoke, name="feed_revoke"),
    path("rain/", rain.rain, name="rain"),
    path("storms/", rain.storms, name="storms"),
    path("agreements/", agreements.agreements, name="agreements"),
    path("agreements/<uuid:uid>/", agreements.agreement, name="agreement"),
    path("agreements/<uuid:uid>/end/", agreements.end, name="agreement_end"),
    path("properties/<uuid:uid>/agreements/add/", agreements.add, name="agreement_add"),
    path("messages/", messages.messages, name="messages"),
    path("messages/<uuid:uid>/", messages.message, name="message"),
    path("messages/<uuid:uid>/settle/", messages.settle, name="message_settle"),
    path("calls/", calls.calls, name="calls"),
    path("calls/<uuid:uid>/told/", calls.told, name="call_told"),
    path("reviews/", reviews.reviews, name="reviews"),
    path("reviews/flags/<uuid:uid>/", reviews.clear, name="review_clear"),
    path("reviews/<int:number>/match/", reviews.match, name="review_match"),
]
