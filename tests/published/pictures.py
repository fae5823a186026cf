"""`python -m tests.published.pictures` draws what README.md shows anew: the plan of a room of the demo's job
and the first page of its document. Wants pdftoppm (poppler-utils).
"""

from __future__ import annotations

import json
import subprocess
import sys
import tempfile
import urllib.request
from pathlib import Path
from typing import Any

from tests.clients.__main__ import JOB, KEY, live
from tests.published.history import ROOT

PICTURES = ROOT / "openapi" / "pictures"
ROOM = 1
PAGE = ["-png", "-singlefile", "-r", "60", "-f", "1", "-l", "1"]


def call(where: str, body: Any = None, accept: str = "application/json") -> bytes:
    headers = {"Authorization": f"Bearer {KEY}", "Content-Type": "application/json", "Accept": accept}
    data = None if body is None else json.dumps(body).encode()
    with urllib.request.urlopen(urllib.request.Request(where, data, headers)) as answer:
        found: bytes = answer.read()
    return found


def draw(address: str, folder: Path) -> None:
    job = json.loads(JOB.read_text("utf-8"))
    tiles = json.loads(call(f"{address}/v1/products?role=tile"))["items"]
    ids = {tile["code"]: tile["id"] for tile in tiles}
    for room in job["rooms"]:
        room["tile"] = {"product": ids[room["tile"]["product"]]}
    quote = f"{address}/v1/quotes/{json.loads(call(f'{address}/v1/quotes', job))['id']}"
    PICTURES.mkdir(exist_ok=True)
    (PICTURES / "plan.svg").write_bytes(call(f"{quote}/plan?room={ROOM}", accept="image/svg+xml"))
    document = folder / "document.pdf"
    document.write_bytes(call(f"{quote}/document", accept="application/pdf"))
    drawn = ["/usr/bin/env", "pdftoppm", *PAGE, str(document), str(PICTURES / "document")]
    subprocess.run(drawn, check=True, stderr=subprocess.DEVNULL)


def main() -> int:
    with tempfile.TemporaryDirectory() as name, live(Path(name)) as address:
        draw(address, Path(name))
    return 0


if __name__ == "__main__":
    sys.exit(main())
