"""What tests of serving share: a folder of growers, and nginx where it is installed."""

from __future__ import annotations

import os
import shutil
from collections.abc import Callable
from pathlib import Path

import pytest
from served import Known, make_growers


@pytest.fixture
def growers(demo_file: Path, tmp_path: Path) -> Callable[..., list[Known]]:
    """Make growers with the demo garden each: ``growers(3, folder="a")``."""
    return lambda count, folder="growers": make_growers(tmp_path / folder, demo_file, count)


@pytest.fixture(scope="session")
def nginx() -> str:
    """Where nginx is. Skipped where it is not installed; failed where ADVISOR_NEEDS_NGINX is set."""
    found = shutil.which("nginx", path=f"{os.environ.get('PATH', '')}:/usr/sbin")
    if found is None:
        (pytest.fail if os.environ.get("ADVISOR_NEEDS_NGINX") else pytest.skip)("nginx is not installed")
    return str(found)
