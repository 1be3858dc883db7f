"""The company server: PostgreSQL and Redis by setting, the same commands, each part a program of its own."""

import signal
from uuid import uuid4

import psycopg
import pytest

from tests.services.servers import PARTS, manage, status
from tests.services.test_serve import wait_for_the_end
from tests.services.waiting import until

pytestmark = [pytest.mark.serial, pytest.mark.postgres, pytest.mark.redis]


@pytest.fixture
def company(own_postgres, own_redis, tmp_path):
    """Environment of a company server with a database of its own."""
    database = own_postgres.create(f"company_{uuid4().hex[:8]}")
    return {"DATABASE_URL": database, "REDIS_URL": own_redis.url, "real": True}


def beats(company) -> dict[str, object]:
    with psycopg.connect(company["DATABASE_URL"]) as connection:
        return dict(connection.execute("SELECT name, at FROM core_heartbeat").fetchall())


def test_three_programs_on_postgresql_and_redis(server, company, own_redis, own_postgres, tmp_path):
    web = server(options=("--only", "web", "--web", "2", "--prepare"), **company).start()
    web.wait_until_it_answers()
    assert status(f"{web.url}/") == 200
    env = {name: company[name] for name in ("DATABASE_URL", "REDIS_URL")}
    worker = server(options=("--only", "worker"), port=web.port, **company)
    worker.log_path = tmp_path / "worker.log"
    worker.start().wait_for_parts(PARTS - {"web", "beat"})
    beat = server(options=("--only", "beat"), port=web.port, **company)
    beat.log_path = tmp_path / "beat.log"
    beat.start().wait_for_parts({"beat"})
    until(
        lambda: {"worker", "scheduler", "queue"} <= beats(company).keys(),
        within_s=100,
        what=f"heartbeats\n{worker.log}",
    )
    assert manage(tmp_path, "alive", "worker", "scheduler", **env).returncode == 0

    # Redis and PostgreSQL die and come back; the programs go on by themselves.
    before = beats(company)["worker"]
    own_redis.kill()
    own_redis.start()
    until(lambda: beats(company)["worker"] > before, within_s=90, what=f"a heartbeat after Redis\n{worker.log}")
    own_postgres.kill()
    own_postgres.start()
    until(lambda: status(f"{web.url}/sign-in/") == 200, within_s=60, what=f"a page after PostgreSQL\n{web.log}")
    before = beats(company)["worker"]
    until(lambda: beats(company)["worker"] > before, within_s=90, what=f"a heartbeat after PostgreSQL\n{worker.log}")

    for one in (beat, worker, web):
        assert not one.ended(), one.log
        one.send(signal.SIGTERM)
        assert wait_for_the_end(one, within_s=12) == 0


def test_a_second_scheduler_is_refused_and_a_second_worker_is_not(server, company, tmp_path):
    manage(tmp_path, "setup", DATABASE_URL=company["DATABASE_URL"], REDIS_URL=company["REDIS_URL"])
    first = server(options=("--only", "beat"), **company).start()
    first.wait_for_parts({"beat"})
    second = server(options=("--only", "beat"), **company).start()
    assert second.process.wait(timeout=40) == 1
    assert "already runs" in second.log
    workers = [server(options=("--only", "worker"), **company).start() for _ in range(2)]
    for one in workers:
        one.wait_for_parts(PARTS - {"web", "beat"})
