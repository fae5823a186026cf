"""PostgreSQL of the topology: a database, its secrets and the login of API and workers."""

from __future__ import annotations

import os
import subprocess
from pathlib import Path
from typing import TYPE_CHECKING, Any

import psycopg
from sqlalchemy.engine import make_url

from service.store import embedded
from service.store.engine import libpq_url
from tests.topology import image

if TYPE_CHECKING:
    from tests.topology.run import Topology

DOCKER = image.ROOT / "docker"


def make_database(top: Topology) -> None:
    """As the image of PostgreSQL does: a database, its superuser, then the script that compose mounts."""
    secrets = top.folder / "secrets"
    subprocess.run([DOCKER / "make-secrets", secrets], check=True)
    name = f"topology_{os.getpid()}"
    with psycopg.connect(libpq_url(top.database), autocommit=True) as connection:
        connection.execute(f"DROP DATABASE IF EXISTS {name} WITH (FORCE)")
        connection.execute(f"CREATE DATABASE {name}")
        connection.execute("DROP ROLE IF EXISTS office_service")  # on a server that is kept
    top.database = make_url(top.database).set(database=name).render_as_string(hide_password=False)
    admin = make_url(libpq_url(top.database))
    _make_login(top, admin)
    _write_addresses(secrets, admin)


def _make_login(top: Topology, admin: Any) -> None:
    binaries = embedded._binaries()  # where the wheel keeps psql
    given = {
        "PATH": f"{binaries}:{os.environ['PATH']}",
        "SECRETS": str(top.folder / "secrets"),
        "POSTGRES_USER": str(admin.username),
        "POSTGRES_DB": str(admin.database),
        "PGPASSWORD": str(admin.password),
        "PGHOST": str(admin.query.get("host") or admin.host),
        "PGPORT": str(admin.port or 5432),
    }
    script = top.services["database"]["volumes"][1].split(":")[0]
    subprocess.run([DOCKER / script], check=True, env=given)


def _write_addresses(secrets: Path, admin: Any) -> None:
    password = (secrets / "service_password").read_text().strip()
    login = admin.set(username="office_service", password=password)
    for name, url in (("database_owner_url", admin), ("database_url", login)):
        (secrets / name).write_text(url.render_as_string(hide_password=False))
