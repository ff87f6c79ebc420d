"""Databases of the benchmarks' own: made before, dropped after, on the server that DATABASE_URL names."""

import os
import time
from collections.abc import Callable
from typing import TypeVar
from urllib.parse import urlsplit, urlunsplit

import psycopg

PREFIX = f"bench_of_{os.getpid()}"
MIGRATED = f"{PREFIX}_migrated"
Result = TypeVar("Result")


def say(words: str) -> None:
    print(words, flush=True)


def step(words: str, deed: Callable[[], Result]) -> Result:
    """Do it and say how long it took: nobody waits before a silent screen."""
    print(f"  {words} …", end=" ", flush=True)
    start = time.perf_counter()
    result = deed()
    print(f"{time.perf_counter() - start:.1f} s", flush=True)
    return result


def choose() -> None:
    """Point DATABASE_URL to a database of our own. Before Django is set up."""
    url = os.environ.get("DATABASE_URL")
    if not url or not os.environ.get("REDIS_URL"):
        raise SystemExit("DATABASE_URL and REDIS_URL name no servers: run `make bench`, which starts its own.")
    os.environ["BENCH_SERVER"] = url
    _on_server(f"CREATE DATABASE {MIGRATED}")
    os.environ["DATABASE_URL"] = urlunsplit(urlsplit(url)._replace(path=f"/{MIGRATED}"))


def fresh(name: str) -> None:
    """A copy of the migrated, empty database under Django's own connection."""
    from django.db import connection

    connection.close()
    _on_server(f"CREATE DATABASE {PREFIX}_{name} TEMPLATE {MIGRATED}")
    connection.settings_dict["NAME"] = f"{PREFIX}_{name}"


def drop() -> None:
    """Remove every database of ours."""
    with _server() as server:
        ours = server.execute("SELECT datname FROM pg_database WHERE starts_with(datname, %s)", [f"{PREFIX}_"])
        for (name,) in ours.fetchall():
            server.execute(f'DROP DATABASE "{name}" WITH (FORCE)')


def about() -> dict[str, str]:
    """The server's version, and whether it waits for the disk."""
    with _server() as server:
        version = server.execute("SHOW server_version").fetchone()
        fsync = server.execute("SHOW fsync").fetchone()
    assert version and fsync
    return {"postgres": version[0].split()[0], "fsync": fsync[0], "cores": str(os.cpu_count())}


def _server() -> psycopg.Connection:
    return psycopg.connect(os.environ["BENCH_SERVER"], autocommit=True)


def _on_server(sql: str) -> None:
    with _server() as server:
        server.execute(sql)
