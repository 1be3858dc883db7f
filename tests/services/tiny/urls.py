import os

from django.http import HttpRequest, HttpResponse
from django.urls import path


def home(request: HttpRequest) -> HttpResponse:
    return HttpResponse(f"process {os.getpid()}, body {len(request.body)}, scheme {request.scheme}")


urlpatterns = [path("", home)]
