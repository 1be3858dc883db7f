"""What every page's frame needs, and nothing that costs a query."""

from django.conf import settings
from django.http import HttpRequest
from django.urls import reverse
from django.utils.functional import SimpleLazyObject

REGISTER = (
    *("propert", "system", "component", "customer", "job", "hazard", "area", "import", "person", "role", "layout"),
    *("connection", "drainage", "photo", "plan"),
)
OFFICE_NAV = (
    ("Due", "pages:due", ("due",)),
    (
        "Properties",
        "pages:properties",
        REGISTER,
    ),
    ("Week", "pages:week", ("week", "visit")),
    ("Storms", "pages:storms", ("storm",)),
    ("Messages", "pages:messages", ("message", "call")),
    ("Rules", "pages:rules", ("rule",)),
    ("Company", "pages:company", ("company", "phone", "token", "feed")),
)


def shell(request: HttpRequest) -> dict[str, object]:
    """Template context of the shell: the main navigation with the present page marked."""
    return {
        "build_version": settings.BUILD_VERSION,
        "demo": settings.SILTLINE_DEMO,
        # Made only where a page of the office shows it.
        "office_nav": SimpleLazyObject(lambda: _nav(request)),
    }


def _nav(request: HttpRequest) -> list[dict[str, object]]:
    match = request.resolver_match
    name = match.url_name or "" if match else ""
    return [
        {"words": words, "url": reverse(route), "current": name.startswith(starts)}
        for words, route, starts in OFFICE_NAV
    ]
