"""Who acts in a request of the pages: a person of the company by account, a homeowner by the link's session."""

from collections.abc import Callable
from functools import wraps
from typing import TypeVar

from django.db.models import Model, QuerySet
from django.http import Http404, HttpRequest, HttpResponse

from core.act import Act, by_user
from core.problem import Problem
from pages import errors, home_session

M = TypeVar("M", bound=Model)


def act_of(request: HttpRequest) -> Act:
    """The act of this request, with its one reading of the clock. Raises LookupError where nobody is signed in."""
    if request.user.is_authenticated:
        return by_user(request.user, via="page")
    return home_session.act_of(request)


def acting(view: Callable[..., HttpResponse]) -> Callable[..., HttpResponse]:
    """Hand the act to a view as its second argument; what a service refuses becomes a page that says why.

    Such pages are for one person: they are kept by no cache.
    """

    @wraps(view)
    def inner(request: HttpRequest, *args: object, **kwargs: object) -> HttpResponse:
        try:
            response = view(request, act_of(request), *args, **kwargs)
        except Problem as problem:
            response = errors.cannot(request, problem)
        response.headers.setdefault("Cache-Control", "private, no-store")
        return response

    return inner


def found(rows: QuerySet[M], **key: object) -> M:
    """The one row, or 404: what is hidden from this person is not there. `rows` comes from a visible selector."""
    row = rows.filter(**key).first()
    if row is None:
        raise Http404
    return row
