"""Who may open the desk: the office alone."""

LOOK = {"office": "GET"}
ACT = {"office": "POST"}
BOTH = {"office": "GET POST"}

ROWS: dict[str, dict[str, str]] = {
    "pages:due": LOOK,
    "pages:due_propose": ACT,
    "pages:week": LOOK,
    "pages:week_move": ACT,
    "pages:visits": LOOK,
    "pages:visit": LOOK,
    "pages:visit_step": ACT,
    "pages:company": BOTH,
    "pages:tokens": BOTH,
    "pages:token_revoke": ACT,
    "pages:feeds": BOTH,
    "pages:feed_renew": ACT,
    "pages:feed_revoke": ACT,
    "pages:refresh": BOTH,
    "pages:refresh_turn": ACT,
    "pages:rain": BOTH,
    "pages:storms": LOOK,
    "pages:agreements": LOOK,
    "pages:agreement": BOTH,
    "pages:agreement_end": ACT,
    "pages:agreement_add": BOTH,
    "pages:messages": LOOK,
    "pages:message": LOOK,
    "pages:message_settle": ACT,
    "pages:calls": LOOK,
    "pages:call_told": ACT,
    "pages:reviews": LOOK,
    "pages:review_clear": ACT,
    "pages:review_match": BOTH,
    "pages:rules": LOOK,
    "pages:rule_add": BOTH,
    "pages:rule": BOTH,
    "pages:rule_switch": ACT,
    "pages:override_where": LOOK,
    "pages:override_add": BOTH,
    "pages:override_end": ACT,
}
