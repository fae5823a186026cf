"""Dockerfile and compose.yaml, as far as can be told without a container engine."""

from __future__ import annotations

import os
import re
import shutil
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest
import yaml

from service.settings import SETTINGS
from tests.topology import image

DOCKER = image.ROOT / "docker"
BINARIES = Path(sys.executable).parent
COMPOSE: dict[str, Any] = yaml.safe_load((DOCKER / "compose.yaml").read_text())
SERVICES: dict[str, Any] = COMPOSE["services"]
SETTING_NAMES = {name for setting in SETTINGS for name in (setting.name, f"{setting.name}_FILE")}


def run(*command: str | Path, cwd: Path = image.ROOT) -> str:
    done = subprocess.run(
        [str(word) for word in command], cwd=cwd, capture_output=True, text=True, check=False
    )
    assert done.returncode == 0, done.stdout + done.stderr
    return done.stdout


def test_the_compose_file_keeps_to_the_compose_specification() -> None:
    checker = BINARIES / "check-jsonschema"
    run(checker, "--builtin-schema", "vendor.compose-spec", DOCKER / "compose.yaml")


def test_the_dockerfile_pleases_its_linter() -> None:
    run(BINARIES / "hadolint", "--failure-threshold", "style", DOCKER / "Dockerfile")


@pytest.mark.parametrize("script", ["make-secrets", "database/make-login"])
def test_shell_scripts_can_be_run_and_parsed(script: str) -> None:
    assert os.access(DOCKER / script, os.X_OK)
    run("sh", "-n", DOCKER / script)


@pytest.mark.parametrize("name", SERVICES)
def test_every_container_may_do_as_little_as_it_needs(name: str) -> None:
    service = SERVICES[name]
    assert service["read_only"] is True
    assert service["cap_drop"] == ["ALL"]
    assert "cap_add" not in service
    assert "privileged" not in service
    assert service["security_opt"] == ["no-new-privileges:true"]
    assert service["mem_limit"]
    assert service["pids_limit"]
    user = service.get("user") or image.the("USER").text
    assert user.split(":")[0] not in {"0", "root"}
    mounted = [volume for volume in service.get("volumes", ()) if volume.startswith((".", "/"))]
    assert all(volume.endswith(":ro") for volume in mounted)


@pytest.mark.parametrize("name", SERVICES)
def test_secrets_come_in_declared_files_and_settings_are_ours(name: str) -> None:
    service = SERVICES[name]
    for setting, value in service.get("environment", {}).items():
        if setting.endswith("_FILE"):
            secret = str(value).removeprefix("/run/secrets/")
            assert secret in service["secrets"]
            assert COMPOSE["secrets"][secret] == {"file": f"./secrets/{secret}"}
        if service.get("image", "").startswith("floors"):
            assert setting in SETTING_NAMES


def test_no_secret_is_written_down() -> None:
    for file in ("compose.yaml", "Dockerfile", "nginx.conf"):
        text = (DOCKER / file).read_text()
        assert not re.search(r"://[^\s/]*:[^\s/]*@|PASSWORD[:=](?!_FILE)|[0-9a-f]{32}", text), file
    assert "docker/secrets/" in (image.ROOT / ".gitignore").read_text().splitlines()


def test_what_starts_waits_for_what_it_needs_to_be_healthy() -> None:
    for name, service in SERVICES.items():
        for needed, how in service.get("depends_on", {}).items():
            once = how["condition"] == "service_completed_successfully"
            asked = SERVICES[needed].get("healthcheck", {})
            own = SERVICES[needed].get("image", "").startswith("floors") and not asked.get("disable")
            assert once or own or asked.get("test"), (name, needed)


def test_the_topology_is_two_of_each_and_only_the_proxy_is_seen() -> None:
    assert {"proxy", "api_1", "api_2", "worker_1", "worker_2", "migrate"} <= SERVICES.keys()
    assert [name for name, service in SERVICES.items() if service.get("ports")] == ["proxy"]
    assert all("front" not in SERVICES[name]["networks"] for name in ("database", "limits"))
    servers = re.findall(r"server (\w+):8000", (DOCKER / "nginx.conf").read_text())
    assert servers == [name for name in SERVICES if name.startswith("api")]


def test_secrets_are_made_once_and_closed_to_others(tmp_path: Path) -> None:
    folder = tmp_path / "secrets"
    run(DOCKER / "make-secrets", folder)
    made = {file.name: file.read_text() for file in folder.iterdir()}
    assert made.keys() == COMPOSE["secrets"].keys()
    assert folder.stat().st_mode & 0o077 == 0
    assert len(made["key_pepper"].strip()) == 64
    assert made["service_password"].strip() in made["database_url"]
    run(DOCKER / "make-secrets", folder)
    assert made == {file.name: file.read_text() for file in folder.iterdir()}


def test_the_final_image_compiles_nothing_and_is_not_run_by_root() -> None:
    said = list(image.instructions())
    last = max(place for place, (name, _) in enumerate(said) if name == "FROM")
    assert [name for name, _ in said[:last]].count("FROM") == 1
    installs = [text for name, text in said[last:] if name == "RUN" and re.search("apt-get|pip|gcc", text)]
    assert installs == []
    assert image.the("USER").text == "10001:10001"


def in_folder(text: str, folder: Path) -> str:
    """A RUN of the build with this machine's Python and folders."""
    return text.replace("/opt/venv", str(folder / "venv")).replace("python ", f"{sys.executable} ", 1)


def test_the_builds_commands_run_in_a_clean_folder(tmp_path: Path) -> None:
    """All but the installation itself, which takes a minute (test_the_image_is_built)."""
    app = image.app_folder(tmp_path)
    packages, _, compiled, _ = (text for name, text in image.instructions() if name == "RUN")
    shutil.copy(app / "pyproject.toml", tmp_path)
    run("bash", "-ec", in_folder(packages, tmp_path), cwd=tmp_path)
    assert {"Flask>=3.1", "opentelemetry-sdk>=1.40"} <= set((tmp_path / "packages.txt").read_text().split())
    run("bash", "-ec", in_folder(compiled.replace("service migrations", "migrations"), tmp_path), cwd=app)
    entry = [sys.executable, *image.the("ENTRYPOINT").words[1:]]
    assert "POOL_SIZE" in run(*entry, "settings", cwd=app)
    assert "--host" in run(*entry, image.the("CMD").words[0], "--help", cwd=app)


@pytest.mark.full
def test_the_image_is_built(tmp_path: Path) -> None:
    """Both of the build's folders with its own commands; then only what the final stage copies is used."""
    app = image.app_folder(tmp_path)
    for name in ("pyproject.toml", ".ci/constraints.txt"):
        shutil.copy(tmp_path / "context" / name, tmp_path)
    packages, install, compiled, _ = (text for name, text in image.instructions() if name == "RUN")
    for text, folder in ((packages, tmp_path), (install, tmp_path), (compiled, app)):
        run("bash", "-ec", in_folder(text, tmp_path).replace("&& python", f"&& {sys.executable}"), cwd=folder)
    python = tmp_path / "venv" / "bin" / "python"
    loaded = "import service.api.app, service.jobs.worker, opentelemetry.sdk; print(service.__file__)"
    assert run(python, "-c", loaded, cwd=app).strip().startswith(str(app))
