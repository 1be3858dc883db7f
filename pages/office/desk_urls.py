"""Addresses of the desk: due, week, visits, messages, calls, reviews, rules, company."""

from django.urls import path

from pages.office.desk import due

urlpatterns = [
    path("due/", due.due, name="due"),
    path("due/propose/", due.propose_visits, name="due_propose"),
]
