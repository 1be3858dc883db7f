"""Run a command with DATABASE_URL set to a PostgreSQL server: `python -m tests.on_postgres COMMAND...`.

Takes the server of this machine where one lets us in without a password and may make databases; otherwise starts one
of its own and throws it away. On the machine's server only databases named test_siltline_... are made and dropped.
"""

import os
import subprocess
import sys

import psycopg

from tests.own_servers import Postgres

OF_THE_MACHINE = "postgres://postgres@127.0.0.1:5432"


def machine_lets_us_in() -> bool:
    try:
        with psycopg.connect(f"{OF_THE_MACHINE}/postgres", connect_timeout=3) as connection:
            found = connection.execute("SELECT rolcreatedb FROM pg_roles WHERE rolname = current_user").fetchone()
            return bool(found and found[0])
    except psycopg.OperationalError:
        return False


def main(command: list[str]) -> int:
    # Django makes and drops `test_` + this name; the number keeps two runs apart.
    name = f"siltline_{os.getpid()}"
    if machine_lets_us_in():
        print("PostgreSQL: the server of this machine", flush=True)
        return subprocess.call(command, env=os.environ | {"DATABASE_URL": f"{OF_THE_MACHINE}/{name}"})
    server = Postgres()
    try:
        server.start()
        print("PostgreSQL: a server of our own", flush=True)
        return subprocess.call(command, env=os.environ | {"DATABASE_URL": server.url(name)})
    finally:
        server.close()


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
