"""Addresses of the office pages."""

from django.urls import URLPattern

urlpatterns: list[URLPattern] = []
