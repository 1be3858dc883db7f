"""Addresses of the homeowner pages."""

from django.urls import path

from pages.homeowner import calendar, drains, link, messages_wanted, visit, which

urlpatterns = [
    path("home/new-link/", link.new_link, name="home_new_link"),
    path("home/leave/", link.leave, name="home_leave"),
    path("home/<str:secret>/", link.link, name="home_link"),
    path("v/<uuid:uid>/", which.which, name="visit_link"),
    path("drains/", drains.drains, name="home_drains"),
    path("drains/messages/", messages_wanted.wanted, name="home_messages"),
    path("drains/calendar/", calendar.calendar, name="home_calendar"),
    path("drains/calendar/new/", calendar.new, name="home_calendar_new"),
    path("drains/calendar/<uuid:uid>/renew/", calendar.renew, name="home_calendar_renew"),
    path("drains/calendar/<uuid:uid>/end/", calendar.end, name="home_calendar_end"),
    path("drains/visits/<uuid:uid>/", visit.visit, name="home_visit"),
    path("drains/visits/<uuid:uid>/agree/", visit.agree, name="home_agree"),
    path("drains/visits/<uuid:uid>/another-day/", visit.another_day, name="home_another_day"),
    path("drains/parts/<uuid:uid>/done/", drains.task_done, name="home_task_done"),
    path("drains/<uuid:uid>/", drains.one, name="home_property"),
    path("drains/<uuid:uid>/visits/", drains.visits, name="home_visits"),
    path("drains/<uuid:uid>/tell/", drains.tell, name="home_tell"),
]
