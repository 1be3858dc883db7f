"""Every homeowner page: the act of the link's session, the person's own language, kept by no cache."""

from collections.abc import Callable
from functools import wraps

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.utils import translation

from core.act import Act, by_customer
from core.problem import Problem
from jobs.models import Customer
from pages import home_session

View = Callable[..., HttpResponse]


def homeowner_page(view: View) -> View:
    """Hand the act to the view as its second argument. What a service refuses is told on the page they came from."""

    @wraps(view)
    def inner(request: HttpRequest, *args: object, **kwargs: object) -> HttpResponse:
        customer = person_of(request)
        act = by_customer(customer, via="link")
        with translation.override(customer.language):
            response = _answer(view, request, act, args, kwargs)
        response.headers.setdefault("Content-Language", customer.language)
        response.headers.setdefault("Cache-Control", "private, no-store")
        response.headers["Referrer-Policy"] = "same-origin"
        return response

    return inner


def person_of(request: HttpRequest) -> Customer:
    """The homeowner of this session; 404 where there is none (the gate has asked before)."""
    customer = home_session.customer_of(request)
    if customer is None:
        raise Http404
    return customer


def _answer(view: View, request: HttpRequest, act: Act, args: tuple, kwargs: dict) -> HttpResponse:
    try:
        return view(request, act, *args, **kwargs)
    except Problem as problem:
        messages.error(request, problem.detail)
        return redirect("pages:home_drains")
