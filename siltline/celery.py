"""The Celery application; its settings are CELERY_* in siltline.settings, its timetable siltline.schedule."""

import os

from celery import Celery

from siltline import filequeue, schedule

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "siltline.settings")
filequeue.install()

app = Celery("siltline")
app.config_from_object("django.conf:settings", namespace="CELERY")
app.autodiscover_tasks()
app.conf.beat_schedule = schedule.beat_schedule()
app.conf.task_routes = schedule.routes()
