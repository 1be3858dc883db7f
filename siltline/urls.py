"""Wiring: which door answers which address."""

from django.contrib import admin
from django.urls import include, path, re_path

from api.problems import not_found

urlpatterns = [
    path("admin/", admin.site.urls),
    path("api/v1/", include("api.urls")),
    re_path(r"^api/", not_found),
    path("", include("pages.urls")),
]

handler404 = "pages.errors.not_found"
handler500 = "pages.errors.server_error"
