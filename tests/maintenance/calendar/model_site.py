"""A small model of the server in front of a feed, made only to prove the H rows: right by default, wrong on request.

Each fault is a word; ``ModelSite("H05")`` behaves as the frame's docstring says except for that fault.
"""

import gzip
import json
from datetime import UTC, datetime

from tests.feedcheck.asking import Answer, http_date
from tests.maintenance.calendar.samples import NOW, make_feed

PATH = "/feeds/0f8c2a7de1b94c55a1e3.ics"
WRONG = "/feeds/00000000000000000000.ics"
REVOKED = "/feeds/1f8c2a7de1b94c55a1e3.ics"
CHANGED_TEXT = "Thu, 05 Mar 2026 08:00:00 GMT"


class ModelSite:
    """Answers like a feed server; ``faults`` name what it does wrong."""

    def __init__(self, *faults: str) -> None:
        self.faults = set(faults)
        self.body = make_feed()
        self.asked = 0

    def __call__(self, method: str, path: str, headers: dict[str, str]) -> Answer:
        self.asked += 1
        asked = {name.lower(): value for name, value in headers.items()}
        if path == "/robots.txt":
            rule = "Disallow: /" if "H18" in self.faults else "Disallow:"
            return Answer(200, {"content-type": "text/plain"}, f"User-agent: *\n{rule}\n".encode())
        if method not in ("GET", "HEAD"):
            return self._refused(method)
        if path != PATH:
            return self._unknown(path)
        return self._feed(method, asked)

    def _problem(self, status: int, title: str, **headers: str) -> Answer:
        if "H20-html" in self.faults:
            return Answer(status, {"content-type": "text/html", **headers}, b"<h1>no</h1>")
        said = 200 if "H20-status" in self.faults else status
        body = json.dumps({"type": "about:blank", "title": title, "status": said}).encode()
        return Answer(status, {"content-type": "application/problem+json", **headers}, body)

    def _refused(self, method: str) -> Answer:
        if "H17-csrf" in self.faults:
            return self._problem(403, "Forbidden")
        if "H17-crash" in self.faults:
            return self._problem(500, "Error")
        if "H17-done" in self.faults:
            self.body = make_feed([], ("America/New_York",))
        headers = {} if "H17-allow" in self.faults else {"allow": "GET, HEAD"}
        return self._problem(405, "Method Not Allowed", **headers)

    def _unknown(self, path: str) -> Answer:
        if "H19-redirect" in self.faults:
            return Answer(302, {"location": "/sign-in"}, b"")
        if "H19-ok" in self.faults:
            return Answer(200, {"content-type": "text/calendar"}, b"")
        is_gone = path == REVOKED and "H19-revoked" not in self.faults
        return self._problem(410 if is_gone else 404, "Gone" if is_gone else "Not Found")

    def _headers(self, packed: bool) -> dict[str, str]:
        tag = 'W/"model-1"'
        if "H15-shared" in self.faults:
            tag = '"model-1"'
        if "H03" in self.faults:
            tag = "model-1"
        if "H04" in self.faults or ("H15-lost" in self.faults and packed):
            tag = f'"{self.asked}"'
        headers = {
            "content-type": "text/calendar; charset=utf-8",
            "etag": tag,
            "last-modified": CHANGED_TEXT,
            "cache-control": "private, no-cache",
            "vary": "Accept-Encoding",
            "content-disposition": 'inline; filename="visits.ics"',
            "link": '<https://calendar.example.org/crew>; rel="alternate"; type="text/html"',
        }
        spoiled = {
            "H02": ("content-type", "text/calendar"),
            "H02-html": ("content-type", "text/html; charset=utf-8"),
            "H08-form": ("last-modified", "2026-03-05T08:00:00Z"),
            "H08-future": ("last-modified", "Fri, 05 Mar 2027 08:00:00 GMT"),
            "H11": ("cache-control", "max-age=3600"),
            "H11-public": ("cache-control", "public, no-store"),
            "H14": ("vary", "Cookie"),
            "H21": ("set-cookie", "sessionid=1"),
            "H23": ("link", "<https://calendar.example.org/crew>"),
        }
        return headers | {name: value for fault, (name, value) in spoiled.items() if fault in self.faults}

    def _is_current(self, asked: dict[str, str], headers: dict[str, str]) -> bool:
        tags = [part.strip().removeprefix("W/") for part in asked.get("if-none-match", "").split(",") if part.strip()]
        since = http_date(asked.get("if-modified-since", ""))
        changed = http_date(headers["last-modified"]) or datetime.max.replace(tzinfo=UTC)
        by_date = since is not None and changed <= since and "H09-never" not in self.faults
        if "H09-always" in self.faults and since is not None:
            by_date = True
        if "H10" in self.faults and since is not None:
            return by_date
        if not tags:
            return by_date
        if "H07" in self.faults:
            return True
        if "H05-list" in self.faults and len(tags) > 1:
            return False
        return "H05" not in self.faults and headers["etag"].removeprefix("W/") in tags

    def _feed(self, method: str, asked: dict[str, str]) -> Answer:
        if "H01-empty" in self.faults:
            return Answer(200, self._headers(False), b"")
        if "H01-login" in self.faults:
            return Answer(401, {"www-authenticate": "Basic"}, b"")
        if "H16" in self.faults and "text/html" not in asked.get("accept", "text/html"):
            return self._problem(406, "Not Acceptable")
        if "H12-405" in self.faults and method == "HEAD":
            return self._problem(405, "Method Not Allowed", allow="GET")
        packed = asked.get("accept-encoding", "") == "gzip" or "H13-forced" in self.faults
        headers = self._headers(packed)
        if self._is_current(asked, headers):
            kept = {
                name: headers[name] for name in ("etag", "cache-control", "vary") if "H06-headers" not in self.faults
            }
            return Answer(304, kept, b"not modified" if "H06-body" in self.faults else b"")
        body = self.body.replace(b"PT1H", b"PT2H") if "H13-differs" in self.faults and packed else self.body
        if packed:
            headers["content-encoding"] = "gzip"
            body = gzip.compress(body, mtime=0)
        if method == "HEAD":
            if "H12-tag" in self.faults:
                headers["etag"] = '"head"'
            body = body if "H12-body" in self.faults else b""
        return Answer(200, headers, body)


def is_model_time_right() -> bool:
    """The model's Last-Modified lies before the moment it is judged at."""
    changed = http_date(CHANGED_TEXT)
    return changed is not None and changed < NOW
