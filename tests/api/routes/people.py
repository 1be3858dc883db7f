"""Everybody at the API: one person's program each, with a real token."""

from typing import Any

from django.http import HttpResponse
from django.test import Client

from core import tokens
from core.act import by_system, by_user
from core.models import Token, User
from tests.factories import AT, Cast

V1 = "/api/v1"


class Caller:
    """One person's program: JSON in and out, the token in each request. `secret` "" sends none."""

    def __init__(self, secret: str) -> None:
        self.client = Client(raise_request_exception=False)
        self.headers = {"authorization": f"Bearer {secret}"} if secret else {}

    def send(self, method: str, path: str, body: Any = None, **headers: str) -> HttpResponse:
        """One request; `path` begins after /api/v1 unless it is a whole address."""
        address = path if path.startswith(("http", "/api/")) else V1 + path
        more: dict[str, Any] = {"headers": {**self.headers, **{k.replace("_", "-"): v for k, v in headers.items()}}}
        if body is not None or method in ("POST", "PUT", "PATCH"):
            more |= {"data": {} if body is None else body, "content_type": "application/json"}
        return getattr(self.client, method.lower())(address, **more)

    def get(self, path: str, **headers: str) -> HttpResponse:
        return self.send("GET", path, **headers)

    def post(self, path: str, body: Any = None, **headers: str) -> HttpResponse:
        return self.send("POST", path, body, **headers)

    def patch(self, path: str, body: Any = None, **headers: str) -> HttpResponse:
        return self.send("PATCH", path, body, **headers)


def token_of(user: User) -> str:
    """The plain text of a fresh token of this person."""
    return tokens.issue(act=by_user(user, via="api", at=AT), kind=Token.Kind.API, label="test", user=user)[1]


def caller_of(cast: Cast, who: str) -> Caller:
    """office, crew (may see the cast's property), other_crew (sees none), homeowner (their link as token), nobody."""
    if who == "nobody":
        return Caller("")
    person = getattr(cast, who)
    if isinstance(person, User):
        return Caller(token_of(person))
    link = tokens.issue(act=by_system("test", at=AT), kind=Token.Kind.LINK, label="t", holder_uid=person.uid)[1]
    return Caller(link)
