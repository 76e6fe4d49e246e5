# SPDX-License-Identifier: MIT
"""Write what CI installs: ``python .ci/lock.py lock > .ci/requirements.lock`` or ``... minimum``.

``lock`` asks pip what it would install for the tests and linters here, and writes each file's
SHA-256. ``minimum`` writes each dependency of the program at the lowest version that it names.
"""

from __future__ import annotations

import json
import platform
import re
import subprocess
import sys
import tempfile
import tomllib
from pathlib import Path

ROOT = Path(__file__).parents[1]


def project() -> dict[str, list[str]]:
    """Return the project's table of pyproject.toml."""
    return tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))["project"]


def minimum() -> list[str]:
    """Return each dependency at the lowest version that is declared."""
    found = (re.fullmatch(r"([\w.-]+)>=([\d.]+).*", each) for each in project()["dependencies"])
    return [f"{each[1]}=={each[2]}" for each in found if each]


def lock() -> list[str]:
    """Return each package that the tests and linters need here, with the hash of its file."""
    with tempfile.NamedTemporaryFile(suffix=".json") as report:
        wanted = f"{ROOT}[test,full,lint]"
        command = [sys.executable, "-m", "pip", "install", "--dry-run", "--ignore-installed", "-q"]
        command += ["--only-binary", ":all:", "--report", report.name, "-e", wanted]
        subprocess.run(command, check=True, stdout=sys.stderr)
        return locked(json.loads(Path(report.name).read_text("utf-8")))


def locked(report: dict[str, list[dict[str, dict[str, object]]]]) -> list[str]:
    """Return the lines for what pip reports that it would install."""
    lines = []
    for each in report["install"]:
        about, found = each["metadata"], each["download_info"].get("archive_info")
        if isinstance(found, dict):  # the project itself has none
            sha256 = found["hashes"]["sha256"]
            lines.append(f"{str(about['name']).lower()}=={about['version']} --hash=sha256:{sha256}")
    where = f"Python {platform.python_version_tuple()[0]}.{platform.python_version_tuple()[1]}"
    return [f"# For {where}, {platform.system()}, {platform.machine()}.", *sorted(lines)]


if __name__ == "__main__":
    print("\n".join({"lock": lock, "minimum": minimum}[sys.argv[1]]()))
