"""Which role may open which page with which method. A test fails when a route is missing here."""

from core.roles import RoleTable
from pages.crew.roles import ROWS as CREW
from pages.feeds.roles import ROWS as FEEDS
from pages.homeowner.roles import ROWS as HOMEOWNER
from pages.office.roles import ROWS as OFFICE

EVERYONE = {"nobody": "GET POST", "office": "GET POST", "crew": "GET POST", "homeowner": "GET POST"}

TABLE = RoleTable(
    {
        "pages:home": {"nobody": "GET", "office": "GET", "crew": "GET", "homeowner": "GET"},
        "pages:methods": {"office": "GET"},
        "pages:sign_in": EVERYONE,
        "pages:sign_out": EVERYONE,
        "pages:photo": {"office": "GET", "crew": "GET", "homeowner": "GET"},
        **FEEDS,
        **HOMEOWNER,
        **CREW,
        **OFFICE,
    }
)
