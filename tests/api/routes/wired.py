"""The routes of the API as they are wired, read from the resolver: no list to keep by hand."""

from dataclasses import dataclass
from datetime import date
from typing import Any

from django.urls import get_resolver, reverse

from api.scoped import Noun

HTTP = ("GET", "POST", "PUT", "PATCH", "DELETE")


@dataclass(frozen=True)
class Route:
    """One route: its name as the role table has it, its view, the methods it answers, the names in its path."""

    name: str
    view: type | None
    methods: frozenset[str]
    names: tuple[str, ...]

    @property
    def noun(self) -> type[Noun] | None:
        """The view, if its rows are limited by a selector."""
        return self.view if self.view is not None and issubclass(self.view, Noun) else None

    def address(self, **values: Any) -> str:
        """An address of the route; dates are a Monday where none is given."""
        filled = {"day": date(2026, 5, 4), "rest": "no/such/", **values}
        return reverse(self.name, kwargs={name: filled[name] for name in self.names})


def _view_of(callback: Any) -> type | None:
    return getattr(callback, "cls", None) or getattr(callback, "view_class", None)


def _methods(callback: Any, view: type | None) -> frozenset[str]:
    actions = getattr(callback, "actions", None)
    if actions:
        return frozenset(method.upper() for method in actions if method not in ("head", "options"))
    if view is None:
        return frozenset({"GET"})
    allowed = getattr(view, "http_method_names", [method.lower() for method in HTTP])
    return frozenset(method for method in HTTP if method.lower() in allowed and hasattr(view, method.lower()))


def every_route() -> list[Route]:
    """Every route of the namespace `api`. Plain functions (the page to read, the 404) answer GET alone."""
    _, resolver = get_resolver().namespace_dict["api"]
    routes, answered = [], set()
    for pattern in resolver.url_patterns:
        if str(pattern.pattern) in answered:  # the first one with this address answers
            continue
        answered.add(str(pattern.pattern))
        view = _view_of(pattern.callback)
        names = tuple(pattern.pattern.converters or pattern.pattern.regex.groupindex)
        routes.append(Route(f"api:{pattern.name}", view, _methods(pattern.callback, view), names))
    return sorted(routes, key=lambda route: route.name)
