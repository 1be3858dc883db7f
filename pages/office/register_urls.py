"""Addresses of the register's pages."""

from django.urls import path

from pages.office.register import properties, property

urlpatterns = [
    path("properties/", properties.properties, name="properties"),
    path("properties/<uuid:uid>/", property.property_page, name="property"),
    path("properties/<uuid:uid>/history/", property.property_history, name="property_history"),
    path("components/<uuid:uid>/", property.component, name="component"),
]
