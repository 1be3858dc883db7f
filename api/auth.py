"""Who is calling: token first (so that DRF answers 401), then the session of a signed-in page."""

from typing import Any

from rest_framework import authentication, exceptions, permissions, throttling
from rest_framework.request import Request

from api.roles import TABLE
from core import clock, tokens
from core.act import Act, by_user
from core.models import Token, User


class TokenAuthentication(authentication.BaseAuthentication):
    """`Authorization: Bearer slt_...`. Needs no CSRF token."""

    keyword = "Bearer"

    def authenticate(self, request: Request) -> tuple[User, Token] | None:
        header = authentication.get_authorization_header(request).decode("latin-1")
        scheme, _, secret = header.partition(" ")
        if scheme.lower() != self.keyword.lower():
            return None
        at = clock.now()
        token = tokens.find(secret.strip(), kind=Token.Kind.API, at=at)
        if token is None or token.user is None:
            raise exceptions.AuthenticationFailed("This token is unknown, has expired or was revoked.")
        tokens.note_use(token, at=at)
        return token.user, token

    def authenticate_header(self, request: Request) -> str:
        return f'{self.keyword} realm="siltline"'


class SessionAuthentication(authentication.SessionAuthentication):
    """The session of a signed-in page; unsafe methods need the CSRF token."""

    def authenticate_header(self, request: Request) -> str:
        return 'Bearer realm="siltline"'


class RoleAllows(permissions.BasePermission):
    """Asks the role table by route name and method; default is no."""

    message = "Your role may not do this here."

    def has_permission(self, request: Request, view) -> bool:
        method = request.method or ""
        if method not in view.allowed_methods:
            raise exceptions.MethodNotAllowed(method)
        match = request._request.resolver_match
        route = match.view_name if match else ""
        role = role_of(request)
        if TABLE.allows(role, route, method) or TABLE.allows("nobody", route, method):
            return True
        if role == "nobody":
            raise exceptions.NotAuthenticated
        return False


class PersonThrottle(throttling.UserRateThrottle):
    """Requests per person, or per address where nobody is signed in."""

    scope = "person"


def role_of(request: Request) -> str:
    """office, crew, or nobody. Homeowners have no account and no token."""
    return request.user.role if isinstance(request.user, User) else "nobody"


def act_of(request: Request) -> Act:
    """The act of this request, with its one reading of the clock."""
    plain: Any = request._request
    if not hasattr(plain, "siltline_act"):
        plain.siltline_act = by_user(request.user, via="api")
    act: Act = plain.siltline_act
    return act
