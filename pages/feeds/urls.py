"""Addresses that programs and mails open without sign-in."""

from django.urls import path

from pages.feeds import ics, stop

urlpatterns = [
    path("feeds/<str:secret>.ics", ics.feed, name="feed"),
    path("stop/<str:value>/", stop.stop, name="stop"),
]
