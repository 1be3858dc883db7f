"""Which role may open which page with which method. A test fails when a route is missing here."""

from core.roles import RoleTable

EVERYONE = {"nobody": "GET POST", "office": "GET POST", "crew": "GET POST", "homeowner": "GET POST"}

TABLE = RoleTable(
    {
        "pages:home": {"nobody": "GET", "office": "GET", "crew": "GET", "homeowner": "GET"},
        "pages:sign_in": EVERYONE,
        "pages:sign_out": EVERYONE,
    }
)
