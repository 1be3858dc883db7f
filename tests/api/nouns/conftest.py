"""The same cast as for the routes."""

from tests.api.routes.conftest import at_that_time, cast, crew, nobody, office  # noqa: F401
