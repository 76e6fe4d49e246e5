# SPDX-License-Identifier: MIT
"""What the program stands on: hashes for CI, lowest versions, and each dependency's licence."""

from __future__ import annotations

import csv
import re
import tomllib
from importlib.metadata import PackageNotFoundError, metadata, requires
from importlib.resources import files
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]
LOCK = ROOT / ".ci" / "requirements.lock"
PROJECT = tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))["project"]
LINE = re.compile(r"([a-z0-9._-]+)==([0-9][\w.+!-]*) --hash=sha256:([0-9a-f]{64})")


def plain(name: str) -> str:
    return re.sub(r"[-_.]+", "-", name).lower()


def wanted(requirement: str) -> str:
    found = re.match(r"[\w.-]+", requirement)
    assert found
    return plain(found[0])


def depended_on() -> set[str]:
    """Return what the program needs at run time, and what that needs, as far as it is here."""
    found: set[str] = set()
    waiting = [wanted(each) for each in PROJECT["dependencies"]]
    while waiting:
        name = waiting.pop()
        if name in found:
            continue
        try:
            more = requires(name) or []
        except PackageNotFoundError:
            continue
        found.add(name)
        waiting += [wanted(each) for each in more if "extra ==" not in each and ";" not in each]
    return found


def test_each_file_that_ci_installs_has_its_hash() -> None:
    heading, *lines = LOCK.read_text("utf-8").splitlines()
    assert heading.startswith("# For Python 3.")
    found = {match[1]: match[2] for line in lines if (match := LINE.fullmatch(line))}
    assert len(found) == len(lines)
    assert lines == sorted(lines)
    extras = PROJECT["optional-dependencies"]
    declared = sum((extras[name] for name in ("test", "full", "lint")), PROJECT["dependencies"])
    assert {wanted(each) for each in declared} <= {plain(name) for name in found}


def test_the_lock_names_no_index_and_no_place() -> None:
    text = LOCK.read_text("utf-8")
    assert "://" not in text
    assert "--index" not in text
    assert "@" not in text


def test_each_dependency_says_from_which_version_on() -> None:
    for each in PROJECT["dependencies"]:
        assert re.fullmatch(r"[\w.-]+>=[\d.]+(,<\d+)?", each), each


def licences() -> dict[str, str]:
    text = (files("wiretrack") / "LICENCES.csv").read_text("utf-8")
    return {row["package"]: row["licence"] for row in csv.DictReader(text.splitlines())}


def test_the_licence_of_each_dependency_is_listed() -> None:
    found = depended_on()
    assert len(found) > 30
    assert found <= set(licences())


# By which word of its own metadata each licence is known again.
WORDS = {
    "MIT": "MIT", "BSD": "BSD", "Apache": "Apache", "LGPL": "LGPL|GNU Lesser", "OFL": "OFL",
    "PSF": "PSF|Python Software", "Public": "Public Domain", "MPL": "MPL|Mozilla",
}  # fmt: skip


@pytest.mark.parametrize("package", sorted(depended_on()))
def test_a_licence_is_the_one_that_the_package_states(package: str) -> None:
    about = metadata(package)
    stated = " ".join(
        [*(about.get_all("License-Expression") or []), *(about.get_all("License") or []),
         *(about.get_all("Classifier") or [])]
    )  # fmt: skip
    words = [word for begun, word in WORDS.items() if begun in licences()[package]]
    assert words, "its licence is of no kind that is known here"
    assert any(re.search(word, stated) for word in words), stated
