"""Start `manage.py serve` on a folder and port of its own, watch its processes, and leave none behind."""

import os
import signal
import subprocess
import sys
import urllib.error
import urllib.request
from pathlib import Path

from tests.own_servers import free_port
from tests.services.waiting import until

ROOT = Path(__file__).resolve().parents[2]
PARTS = {"web", "worker-pulse", "worker-mail", "worker", "beat"}


def processes() -> list[tuple[int, int, str]]:
    """(process, parent, command line) of everything that runs here; zombies are left out."""
    listing = subprocess.run(["ps", "-ww", "-eo", "pid=,ppid=,stat=,args="], capture_output=True, text=True, check=True)
    rows = [line.split(None, 3) for line in listing.stdout.splitlines()]
    return [(int(row[0]), int(row[1]), row[3]) for row in rows if len(row) == 4 and not row[2].startswith("Z")]


class Server:
    """One started server; `log` is what it printed."""

    def __init__(
        self,
        folder: Path,
        *,
        port: int | None = None,
        options: tuple[str, ...] = (),
        real: bool = False,
        **env: str,
    ) -> None:
        self.folder = folder
        folder.mkdir(parents=True, exist_ok=True)
        self.port = port or free_port()
        self.url = f"http://127.0.0.1:{self.port}"
        self.env = environment(folder, self.port, real=real) | env
        self.log_path = folder / f"serve-{self.port}.log"
        self.command = [sys.executable, "manage.py", "serve", *options]
        self.process: subprocess.Popen[bytes] | None = None
        self.seen: set[int] = set()

    def start(self, *, before: tuple[str, ...] = ()) -> "Server":
        """Start it; `before` are words in front of the command, such as a shell that ignores SIGINT."""
        with self.log_path.open("ab") as log:
            self.process = subprocess.Popen(
                [*before, *self.command],
                cwd=ROOT,
                env=self.env,
                stdin=subprocess.DEVNULL,
                stdout=log,
                stderr=log,
                start_new_session=True,
            )
        return self

    @property
    def log(self) -> str:
        return self.log_path.read_text(errors="replace")

    def wait_until_it_answers(self) -> None:
        until(lambda: "answers at" in self.log or self.ended(), within_s=60, what=f"the first answer\n{self.log}")
        assert not self.ended(), self.log

    def ended(self) -> bool:
        return self.process is not None and self.process.poll() is not None

    def parts(self) -> dict[str, int]:
        """Process of each part by name, several web processes as web, web#2..."""
        assert self.process is not None
        found: dict[str, int] = {}
        for pid, parent, args in processes():
            if parent == self.process.pid and " child " in args:
                name = args.split(" child ")[1].split()[0]
                found[name if name not in found else f"{name}#{len(found)}"] = pid
        self.seen |= set(found.values())
        return found

    def wait_for_parts(self, expected: set[str] = PARTS) -> dict[str, int]:
        until(lambda: set(self.parts()) == expected, within_s=60, what=f"the parts {sorted(expected)}\n{self.log}")
        return self.parts()

    def alive(self) -> set[int]:
        """Of all parts ever seen, those that still live."""
        return self.seen & {pid for pid, _, _ in processes()}

    def send(self, number: signal.Signals) -> None:
        assert self.process is not None
        self.process.send_signal(number)

    def clear(self) -> None:
        self.parts()
        if self.process is not None:
            self.process.kill()
            self.process.wait()
        for pid in self.alive():
            os.kill(pid, signal.SIGKILL)


def environment(folder: Path, port: int, *, real: bool = False) -> dict[str, str]:
    """What a started program sees: nothing of the tests' own settings, no demo; the whole site, or the one page."""
    env = {name: value for name, value in os.environ.items() if not name.startswith(("SILTLINE_", "DJANGO_"))}
    env.pop("DATABASE_URL", None)
    env.pop("REDIS_URL", None)
    env["DJANGO_SETTINGS_MODULE"] = "siltline.settings" if real else "tests.services.tiny.settings"
    return env | {"SILTLINE_VAR": str(folder), "SILTLINE_PORT": str(port), "SILTLINE_DEMO": "0", "PYTHONTZPATH": ""}


def manage(folder: Path, *words: str, check: bool = True, **env: str) -> subprocess.CompletedProcess[str]:
    """Run one command of manage.py to its end."""
    return subprocess.run(
        [sys.executable, "manage.py", *words],
        cwd=ROOT,
        env=environment(folder, 1, real=True) | env,
        capture_output=True,
        text=True,
        check=check,
        timeout=180,
    )


def status(url: str, *, timeout_s: float = 20) -> int:
    """HTTP status of a GET; 0 when nobody answers."""
    opener = urllib.request.build_opener(urllib.request.ProxyHandler({}))
    try:
        with opener.open(url, timeout=timeout_s) as answer:
            return answer.status
    except urllib.error.HTTPError as error:
        return error.code
    except OSError:
        return 0
