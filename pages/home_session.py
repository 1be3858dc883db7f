"""A homeowner's session: opened by POST from a link, ended with the link, the role or after 30 days."""

from datetime import timedelta

from django.http import HttpRequest

from core.act import Act, by_customer
from core.models import Token
from jobs.models import Customer
from jobs.read import visible

KEY = "home_token"
DAYS = 30


def open_for(request: HttpRequest, token: Token) -> None:
    """Begin a session for the holder of `token`; a fresh session key, so that an old one cannot be reused."""
    request.session.flush()
    request.session[KEY] = token.pk
    request.session.set_expiry(timedelta(days=DAYS))


def customer_of(request: HttpRequest) -> Customer | None:
    """The customer of this session, or None. Asked once a request."""
    if hasattr(request, "_home_customer"):
        return request._home_customer
    customer = _find(request)
    request._home_customer = customer  # type: ignore[attr-defined]
    return customer


def _find(request: HttpRequest) -> Customer | None:
    key = request.session.get(KEY)
    if key is None:
        return None
    token = Token.objects.filter(pk=key, kind=Token.Kind.LINK, revoked_at=None).first()
    if token is None or token.holder_uid is None:
        return None
    customer = Customer.objects.filter(uid=token.holder_uid, erased_at=None).first()
    if customer is None:
        return None
    return customer if visible.properties(by_customer(customer)).exists() else None


def act_of(request: HttpRequest) -> Act:
    """The act of this homeowner's request. Raises LookupError where nobody is signed in."""
    customer = customer_of(request)
    if customer is None:
        raise LookupError("no homeowner session")
    return by_customer(customer, via="link")
