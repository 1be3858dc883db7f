"""The web part: slow senders hold no thread, too much is refused early, forwarded headers count only from the proxy."""

import socket
import time

import pytest

from tests.services.servers import status

pytestmark = pytest.mark.serial


@pytest.fixture
def web(server):
    def start(**env):
        one = server(options=("--only", "web"), **env).start()
        one.wait_until_it_answers()
        return one

    return start


def asked(port: int, head: str, body: bytes = b"") -> socket.socket:
    """Send one request on a connection of its own and leave it open."""
    connection = socket.create_connection(("127.0.0.1", port), timeout=20)
    connection.sendall(head.replace("\n", "\r\n").encode() + b"\r\n\r\n" + body)
    return connection


def told(connection: socket.socket) -> str:
    """All that comes until the server closes."""
    with connection, connection.makefile("rb") as answer:
        return answer.read().decode()


def test_twelve_stalled_uploads_keep_no_one_waiting(web):
    one = web()
    head = "POST / HTTP/1.1\nHost: 127.0.0.1\nContent-Type: image/jpeg\nContent-Length: 5000000"
    stalled = [asked(one.port, head, b"x" * 100_000) for _ in range(12)]
    began = time.monotonic()
    assert status(f"{one.url}/") == 200
    assert time.monotonic() - began < 2
    for connection in stalled:
        connection.close()


def test_a_body_over_twenty_megabytes_is_refused_before_it_is_sent(web):
    one = web()
    too_much = 20 * 1024 * 1024 + 1
    head = f"POST / HTTP/1.1\nHost: 127.0.0.1\nContent-Type: image/jpeg\nContent-Length: {too_much}"
    assert " 413 " in told(asked(one.port, head)).splitlines()[0]


def test_no_header_names_the_server_program(web):
    answer = told(asked(web().port, "GET / HTTP/1.1\nHost: 127.0.0.1\nConnection: close"))
    assert answer.startswith("HTTP/1.1 200")
    assert "waitress" not in answer.lower()


@pytest.mark.parametrize(("proxy", "scheme"), [("", "http"), ("127.0.0.1", "https"), ("192.0.2.1", "http")])
def test_a_forwarded_scheme_counts_only_from_the_trusted_proxy(web, proxy, scheme):
    one = web(SILTLINE_TRUSTED_PROXY=proxy)
    head = "GET / HTTP/1.1\nHost: 127.0.0.1\nX-Forwarded-Proto: https\nConnection: close"
    assert f"scheme {scheme}" in told(asked(one.port, head))
