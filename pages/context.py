"""What every page's frame needs, and nothing that costs a query."""

from django.conf import settings
from django.http import HttpRequest


def shell(request: HttpRequest) -> dict[str, object]:
    """Template context of the shell."""
    return {"build_version": settings.BUILD_VERSION, "demo": settings.SILTLINE_DEMO}
