"""Wiring: which door answers which address."""

from django.contrib import admin
from django.urls import include, path

urlpatterns = [
    path("admin/", admin.site.urls),
    path("api/v1/", include("api.urls")),
    path("", include("pages.urls")),
]

handler404 = "pages.errors.not_found"
handler500 = "pages.errors.server_error"
