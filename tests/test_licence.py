# SPDX-License-Identifier: MIT
"""What is said about the licence is in the package and in the wheel's list of files."""

from __future__ import annotations

import tomllib
from importlib.metadata import distribution
from importlib.resources import files
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]
FONTS = ("fontpkg-arimo", "fontpkg-atkinson-hyperlegible")


def test_the_text_of_the_licence_is_in_the_package_and_named_for_the_wheel() -> None:
    # SPDX licence list, MIT: its title, the grant, the condition and the disclaimer.
    words = " ".join((files("wiretrack") / "LICENSE.txt").read_text("utf-8").split())
    assert words.startswith("MIT License Copyright (c) ")
    for part in (
        "Permission is hereby granted, free of charge, to any person obtaining a copy of this",
        "The above copyright notice and this permission notice shall be included in all copies or",
        'THE SOFTWARE IS PROVIDED "AS IS", WITHOUT WARRANTY OF ANY KIND, EXPRESS OR IMPLIED',
    ):
        assert part in words
    project = tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))["project"]
    assert (project["license"], project["license-files"]) == ("MIT", ["wiretrack/LICENSE.txt"])


@pytest.mark.parametrize("package", FONTS)
def test_the_typefaces_are_under_the_licence_that_the_manual_names(package: str) -> None:
    (text,) = [
        file.read_text()
        for file in distribution(package).files or ()
        if file.name == "LICENSE" and "licenses" in file.parts
    ]
    assert "SIL Open Font License, Version 1.1" in text
    manual = " ".join((ROOT / "README.md").read_text("utf-8").split())
    owner = text.splitlines()[0].split(" (https")[0]
    assert owner in manual
    assert "SIL Open Font License 1.1" in manual


def test_every_module_names_the_licence() -> None:
    for module in (ROOT / "wiretrack").rglob("*.py"):
        first = module.read_text("utf-8").partition("\n")[0]
        assert first == "# SPDX-License-Identifier: MIT", module
