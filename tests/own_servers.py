"""PostgreSQL and Redis servers of a test run's own, on free ports, thrown away afterwards; never the machine's."""

import os
import shutil
import socket
import subprocess
import tempfile
from pathlib import Path

from tests import needs
from tests.services.waiting import until


def free_port() -> int:
    """A port nobody listens on just now."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return probe.getsockname()[1]


def _accepts(port: int) -> bool:
    with socket.socket() as probe:
        probe.settimeout(1)
        return probe.connect_ex(("127.0.0.1", port)) == 0


class Postgres:
    """One cluster without passwords and without fsync, for the user `siltline`."""

    def __init__(self) -> None:
        self.folder = Path(tempfile.mkdtemp(prefix="siltline-postgres-", dir="/tmp"))
        self.port = free_port()
        self.process: subprocess.Popen[bytes] | None = None
        # initdb refuses to work for root.
        self.as_nobody = ["setpriv", "--reuid=nobody", "--regid=nogroup", "--clear-groups"] if os.geteuid() == 0 else []
        if self.as_nobody:
            shutil.chown(self.folder, "nobody", "nogroup")
        command = [needs.postgres_program("initdb"), "-D", self.data, "-U", "siltline", "-A", "trust", "-E", "UTF8"]
        command += ["--no-sync", "--locale=C.UTF-8"]
        subprocess.run(self.as_nobody + command, check=True, capture_output=True, cwd="/")

    @property
    def data(self) -> str:
        return str(self.folder / "data")

    def start(self) -> None:
        command = [needs.postgres_program("postgres"), "-D", self.data, "-p", str(self.port), "-h", "127.0.0.1"]
        command += ["-k", str(self.folder), "-c", "fsync=off", "-c", "full_page_writes=off", "-c", "max_connections=60"]
        with (self.folder / "log").open("ab") as log:
            self.process = subprocess.Popen(
                self.as_nobody + command, stdin=subprocess.DEVNULL, stdout=log, stderr=log, cwd="/"
            )
        until(self._ready, within_s=60, what="PostgreSQL's start")

    def _ready(self) -> bool:
        import psycopg

        try:
            psycopg.connect(self.url("postgres"), connect_timeout=2).close()
        except psycopg.OperationalError:
            return False
        return True

    def url(self, database: str) -> str:
        return f"postgres://siltline@127.0.0.1:{self.port}/{database}"

    def create(self, database: str) -> str:
        """Make an empty database; returns its URL."""
        import psycopg
        from psycopg import sql

        with psycopg.connect(self.url("postgres"), autocommit=True) as connection:
            connection.execute(sql.SQL("CREATE DATABASE {}").format(sql.Identifier(database)))
        return self.url(database)

    def kill(self) -> None:
        """End it without warning."""
        if self.process is not None:
            self.process.kill()
            self.process.wait()

    def close(self) -> None:
        if self.process is not None:
            self.process.terminate()
            try:
                self.process.wait(20)
            except subprocess.TimeoutExpired:
                self.kill()
        shutil.rmtree(self.folder, ignore_errors=True)


class Redis:
    """One server that writes each command to disk, as a company's would."""

    def __init__(self) -> None:
        self.folder = Path(tempfile.mkdtemp(prefix="siltline-redis-", dir="/tmp"))
        self.port = free_port()
        self.process: subprocess.Popen[bytes] | None = None

    @property
    def url(self) -> str:
        return f"redis://127.0.0.1:{self.port}/0"

    def start(self) -> None:
        command = ["redis-server", "--port", str(self.port), "--bind", "127.0.0.1", "--dir", str(self.folder)]
        command += ["--appendonly", "yes", "--maxmemory-policy", "noeviction", "--daemonize", "no"]
        with (self.folder / "log").open("ab") as log:
            self.process = subprocess.Popen(command, stdin=subprocess.DEVNULL, stdout=log, stderr=log)
        until(lambda: _accepts(self.port), within_s=20, what="the start of Redis")

    def kill(self) -> None:
        """End it without warning."""
        if self.process is not None:
            self.process.kill()
            self.process.wait()

    def close(self) -> None:
        self.kill()
        shutil.rmtree(self.folder, ignore_errors=True)
