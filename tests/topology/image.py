"""What the Dockerfile says, and the folder that its image would run in."""

from __future__ import annotations

import json
import re
import shutil
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import NamedTuple

ROOT = Path(__file__).parents[2]


class Instruction(NamedTuple):
    name: str
    text: str

    @property
    def words(self) -> Sequence[str]:
        """Of the exec form, which is JSON."""
        found: list[str] = json.loads(self.text[self.text.index("[") :])
        return found


def instructions() -> Iterator[Instruction]:
    """Those of the Dockerfile, comments left out and continued lines joined."""
    lines = (ROOT / "docker" / "Dockerfile").read_text().splitlines()
    said = "\n".join(line for line in lines if not line.startswith("#"))
    for line in re.sub(r"\\\n", " ", said).splitlines():
        if line.strip():
            name, _, text = line.partition(" ")
            yield Instruction(name, text.strip())


def the(name: str) -> Instruction:
    """The last instruction of this name."""
    return [found for found in instructions() if found.name == name][-1]


def context(folder: Path) -> None:
    """Copy into `folder` what .dockerignore lets through to a build."""
    ignored = (ROOT / ".dockerignore").read_text().splitlines()
    for kept in (line[1:] for line in ignored if line.startswith("!")):
        source, target = ROOT / kept, folder / kept
        target.parent.mkdir(parents=True, exist_ok=True)
        if source.is_dir():
            shutil.copytree(source, target, ignore=shutil.ignore_patterns("__pycache__"))
        else:
            shutil.copy(source, target)


def app_folder(folder: Path) -> Path:
    """The image's /app, made by the build stage's COPY instructions out of the context."""
    build, app, at = folder / "context", folder / "app", None
    context(build)
    app.mkdir()
    for name, text in instructions():
        if name == "FROM" and at is not None:
            break
        if name == "WORKDIR":
            at = text
        elif name == "COPY" and at == "/app":
            source, target = text.split()
            copy = shutil.copytree if (build / source).is_dir() else shutil.copy
            copy(build / source, app / target)
    return app
