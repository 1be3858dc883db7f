"""Both ways of asking carry method, headers and body unchanged: through Django's test client and over a socket."""

import threading
from collections.abc import Iterator
from contextlib import contextmanager
from wsgiref.simple_server import WSGIRequestHandler, make_server

import pytest
from django.http import HttpRequest, HttpResponse
from django.test import Client
from django.urls import re_path

from tests.feedcheck import check_http, django_fetch, live_fetch
from tests.feedcheck.asking import Answer
from tests.maintenance.calendar.model_site import PATH, REVOKED, WRONG, ModelSite
from tests.maintenance.calendar.samples import NOW

site = ModelSite()


def ask_site(method: str, path: str, environ: dict) -> Answer:
    headers = {name[5:].replace("_", "-"): str(v) for name, v in environ.items() if name.startswith("HTTP_")}
    return site(method, path, headers)


def view(request: HttpRequest) -> HttpResponse:
    answer = ask_site(request.method or "", request.path, request.META)
    response = HttpResponse(answer.body, status=answer.status)
    del response["Content-Type"]
    for name, value in answer.headers.items():
        response[name] = value
    return response


urlpatterns = [re_path("", view)]


class Quiet(WSGIRequestHandler):
    def log_message(self, *args: object) -> None:
        pass


@contextmanager
def served() -> Iterator[str]:
    def application(environ, start_response):
        environ["wsgi.input"].read(int(environ.get("CONTENT_LENGTH") or 0))
        answer = ask_site(environ["REQUEST_METHOD"], environ["PATH_INFO"], environ)
        start_response(f"{answer.status} X", list(answer.headers.items()))
        return [answer.body]

    with make_server("127.0.0.1", 0, application, handler_class=Quiet) as server:
        thread = threading.Thread(target=server.serve_forever, kwargs={"poll_interval": 0.01})
        thread.start()
        try:
            yield f"http://127.0.0.1:{server.server_port}"
        finally:
            server.shutdown()
            thread.join()


@pytest.mark.parametrize(("faults", "expected"), [((), []), (("H09-never", "H21"), ["H09", "H21"])])
def test_a_django_client_is_asked(settings, monkeypatch, faults: tuple[str, ...], expected: list[str]):
    settings.ROOT_URLCONF = __name__
    settings.MIDDLEWARE = []
    monkeypatch.setattr(site, "faults", set(faults))
    fetch = django_fetch(Client(enforce_csrf_checks=True))
    assert check_http(fetch, PATH, WRONG, revoked_path=REVOKED, now=NOW) == expected


@pytest.mark.serial
@pytest.mark.parametrize(
    ("faults", "expected"), [((), []), (("H05", "H19-redirect"), ["H05", "H10", "H15", "H19", "H20"])]
)
def test_a_live_server_is_asked(monkeypatch, faults: tuple[str, ...], expected: list[str]):
    monkeypatch.setattr(site, "faults", set(faults))
    with served() as base:
        assert check_http(live_fetch(base), PATH, WRONG, revoked_path=REVOKED, now=NOW) == expected
