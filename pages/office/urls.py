"""Addresses of the office pages."""

from django.urls import URLPattern

from pages.office.desk_urls import urlpatterns as desk_urls
from pages.office.register_urls import urlpatterns as register_urls

urlpatterns: list[URLPattern] = [*desk_urls, *register_urls]
