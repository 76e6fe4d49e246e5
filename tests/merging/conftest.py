# SPDX-License-Identifier: MIT
"""Two laptops with equal copies of the pump's registry."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from tests.merging.laptops import Laptop, first_laptop

if TYPE_CHECKING:
    from pathlib import Path


@pytest.fixture
def a(tmp_path: Path) -> Laptop:
    return first_laptop(tmp_path)


@pytest.fixture
def b(a: Laptop, tmp_path: Path) -> Laptop:
    return a.twin(tmp_path / "b.db")
