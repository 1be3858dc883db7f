"""Who is calling: token first (so that DRF answers 401), then the session of a signed-in page."""

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
        match = request._request.resolver_match
        route = match.view_name if match else ""
        role = request.user.role if request.user is not None else "nobody"
        if TABLE.allows(role, route, request.method):
            return True
        if request.user is None and not TABLE.allows("nobody", route, request.method):
            raise exceptions.NotAuthenticated
        return False


class PersonThrottle(throttling.UserRateThrottle):
    """Requests per person, or per address where nobody is signed in."""

    scope = "person"


def act_of(request: Request) -> Act:
    """The act of this request: its one reading of the clock."""
    return by_user(request.user, via="api")
