"""Addresses under /api/v1/. Each route has its row in api/roles.py."""

from typing import Any

from django.urls import path, re_path
from rest_framework.routers import SimpleRouter

from api.problems import not_found
from api.reading import Description, reading_page
from api.v1.agreements import ServiceAgreements
from api.v1.areas import Areas
from api.v1.closeouts import CloseoutFlags, Closeouts
from api.v1.company import HistoryEntries, Search, Settings
from api.v1.components import Components
from api.v1.connections import Connections
from api.v1.customers import Customers
from api.v1.drainage_areas import DrainageAreas
from api.v1.due_windows import DueWindows
from api.v1.feeds import Feeds
from api.v1.fixed import Kinds, StartingLayouts
from api.v1.hazards import Hazards
from api.v1.jobs import Jobs
from api.v1.office import CallsToMake, Messages
from api.v1.own import Me, Technicians, Tokens
from api.v1.photos import Photos
from api.v1.properties import Properties
from api.v1.rain import Gauges, RainRows, RainTables
from api.v1.readings import Readings, TasksDone
from api.v1.roles import PropertyRoles
from api.v1.route_sheets import RouteSheet
from api.v1.rules import RuleOverrides, Rules
from api.v1.systems import Systems
from api.v1.visits import Visits

app_name = "api"

NOUNS: dict[str, Any] = {
    "areas": Areas,
    "calls-to-make": CallsToMake,
    "closeout-flags": CloseoutFlags,
    "closeouts": Closeouts,
    "components": Components,
    "connections": Connections,
    "customers": Customers,
    "drainage-areas": DrainageAreas,
    "due-windows": DueWindows,
    "feeds": Feeds,
    "gauges": Gauges,
    "hazards": Hazards,
    "history": HistoryEntries,
    "jobs": Jobs,
    "messages": Messages,
    "photos": Photos,
    "properties": Properties,
    "rain-rows": RainRows,
    "rain-tables": RainTables,
    "readings": Readings,
    "roles": PropertyRoles,
    "rule-overrides": RuleOverrides,
    "rules": Rules,
    "search": Search,
    "service-agreements": ServiceAgreements,
    "systems": Systems,
    "tasks-done": TasksDone,
    "technicians": Technicians,
    "tokens": Tokens,
    "visits": Visits,
}

router = SimpleRouter(use_regex_path=False)
for name, view in NOUNS.items():
    router.register(name, view, basename=name)

CLOSEOUT: dict[str, Any] = {"get": "retrieve", "put": "send", "post": "send"}

urlpatterns = [
    path("schema/", Description.as_view(), name="schema"),
    path("docs/", reading_page, name="docs"),
    path("me/", Me.as_view(), name="me"),
    path("kinds/", Kinds.as_view(), name="kinds"),
    path("starting-layouts/", StartingLayouts.as_view(), name="starting-layouts"),
    path("settings/", Settings.as_view(), name="settings"),
    path("route-sheets/<str:day>/", RouteSheet.as_view(), name="route-sheet"),
    path(
        "closeouts/<uuid:uid>/",
        Closeouts.as_view(CLOSEOUT, basename="closeouts", detail=True),
        name="closeouts-detail",
    ),
    *router.urls,
    re_path(r"^(?P<rest>.*)$", not_found, name="not-found"),
]
