"""Addresses of the register's pages."""

from django.urls import path

from pages.office.register import (
    component,
    corrections,
    edit_components,
    edit_parts,
    edit_places,
    exchange,
    properties,
    property,
)
from pages.office.register.editing import view

AT_PROPERTY = (
    "person_add", "hazard_add", "job_add", "system_add", "layout_add", "component_add", "connection_add",
    "drainage_area_add", "photo_add",
)  # fmt: skip
BY_ITSELF = ("property_add", "area_add")
FORMS = {**edit_places.FORMS, **edit_parts.FORMS, **edit_components.FORMS, **corrections.FORMS}


def _address(name: str) -> str:
    words = name.replace("_", "-")
    if name in BY_ITSELF:
        return f"office/{words}/"
    return f"properties/<uuid:uid>/{words}/" if name in AT_PROPERTY else f"office/{words}/<uuid:uid>/"


urlpatterns = [
    path("properties/", properties.properties, name="properties"),
    path("properties/<uuid:uid>/", property.property_page, name="property"),
    path("properties/<uuid:uid>/history/", property.property_history, name="property_history"),
    path("components/<uuid:uid>/", component.component, name="component"),
    path("components/<uuid:uid>/history/", property.component_history, name="component_history"),
    path("office/import/", exchange.import_register, name="import_register"),
    path("office/export/<slug:file_format>/", exchange.export, name="export_register"),
    *(path(_address(name), view(form), name=name) for name, form in FORMS.items()),
]
