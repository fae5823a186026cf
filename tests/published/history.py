"""The descriptions that this one is held to, out of the repository's own history."""

from __future__ import annotations

import json
import re
import subprocess
from collections.abc import Iterator
from pathlib import Path
from typing import Any

ROOT = Path(__file__).parents[2]
FILE = "openapi/openapi.json"
NUMBERED = re.compile(r"\d+\.\d+\.\d+")


def earlier(version: str, root: Path = ROOT) -> list[tuple[str, dict[str, Any]]]:
    """The commits and files that a description of this version must not break, newest first.

    One is the last that was committed and differs from the file as it is: before a commit the one at HEAD, in
    a fresh clone the one before. The other is the first that carried this version, so that what broke step by
    step is found. A version that is no three numbers promised nothing.
    """
    now = (root / FILE).read_text("utf-8")
    found: list[tuple[str, dict[str, Any]]] = []
    for commit, text in _committed(root):
        description = json.loads(text)
        told = description["info"]["version"]
        if text != now and NUMBERED.fullmatch(told) and (not found or told == version):
            found = [*found[:1], (commit, description)]
        if told != version:
            break
    return found


def _committed(root: Path) -> Iterator[tuple[str, str]]:
    for commit in _git(root, "log", "--first-parent", "--format=%h", "--", FILE).split():
        yield commit, _git(root, "show", f"{commit}:{FILE}")


def _git(root: Path, *said: str) -> str:
    return subprocess.run(
        ["/usr/bin/env", "git", *said], cwd=root, capture_output=True, text=True, check=True
    ).stdout
