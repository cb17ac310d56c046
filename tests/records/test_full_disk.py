"""A full disk: refused in time, nothing acknowledged lost, and all goes on once there is room. On a disk of 12 MB."""

from __future__ import annotations

import os
import shutil
import subprocess
from collections.abc import Iterator
from pathlib import Path

import pytest
from tests_shared import NOON

from advisor.conversation import Adviser
from advisor.errors import GardenUnavailable
from advisor.records.backing_up import back_up, sound
from advisor.records.store import NewRow, Said


@pytest.fixture
def small_disk(tmp_path: Path) -> Iterator[Path]:
    """A file system of 12 MB in an image of its own; needs the rights to mount one."""
    image, folder = tmp_path / "disk.img", tmp_path / "disk"
    folder.mkdir()
    if os.name == "nt" or os.geteuid() != 0 or not all(map(shutil.which, ("mkfs.ext4", "mount", "umount"))):
        pytest.skip("mounting a small disk needs root and mkfs.ext4")
    with image.open("wb") as file:
        file.truncate(12_000_000)
    subprocess.run(["mkfs.ext4", "-q", "-m", "0", "-O", "^has_journal", str(image)], check=True)
    mounted = subprocess.run(["mount", "-o", "loop", str(image), str(folder)], capture_output=True, check=False)
    if mounted.returncode:
        pytest.skip(f"no small disk can be mounted here: {mounted.stderr.decode()[:200]}")
    yield folder
    subprocess.run(["umount", str(folder)], check=True)


def test_a_disk_that_fills_up(adviser: Adviser, demo_file: Path, small_disk: Path) -> None:
    """Writes go on until room runs short, then each is refused with the reason; what was acknowledged is all there."""
    path = Path(shutil.copy(demo_file, small_disk / "garden.db"))
    acknowledged = 0
    with adviser.open(path) as garden, pytest.raises(GardenUnavailable) as refused:
        while acknowledged < 100_000:
            spots = [NewRow("spot", {"name": f"bed {acknowledged}-{n}", "wall_material": "x" * 200}) for n in range(50)]
            garden.add([(Said("message", f"m{acknowledged}", NOON), spots)])
            acknowledged += 1
    assert "disk" in refused.value.found and "make room" in refused.value.do
    assert acknowledged > 10
    filler = small_disk / "filler"
    filler.write_bytes(bytes(max(0, shutil.disk_usage(small_disk).free - 1_000_000)))
    with pytest.raises(GardenUnavailable, match="disk"):
        adviser.message({"text": "soil shed bed 11.3 10cm", "id": "full"}, NOON, path)
    with pytest.raises(GardenUnavailable, match="full"):
        back_up(path, small_disk / "backup.db")
    assert not (small_disk / "backup.db").exists()
    filler.unlink()
    with adviser.open(path) as garden:
        there = [name for name in garden.names("spot") if name.startswith("bed ")]
    assert len(there) == acknowledged * 50
    sound(path)


def test_a_disk_that_is_filled_by_somebody_else(adviser: Adviser, demo_file: Path, small_disk: Path) -> None:
    """Filled to the last byte by another program, the garden can still be read, and writes once there is room again."""
    path = Path(shutil.copy(demo_file, small_disk / "garden.db"))
    with adviser.open(path) as garden:
        before = len(garden.of("soil_reading"))
        garden.add([(Said("message", "m0", NOON), [NewRow("spot", {"name": "bed"})])])
    filler = small_disk / "filler"
    with filler.open("wb") as file, pytest.raises(OSError):
        while True:
            file.write(bytes(100_000))
            file.flush()
    with adviser.open(path) as garden:
        assert len(garden.of("soil_reading")) == before
    with pytest.raises(GardenUnavailable, match="disk"):
        adviser.message({"text": "soil shed bed 11.3 10cm", "id": "full"}, NOON, path)
    filler.unlink()
    assert adviser.message({"text": "soil shed bed 11.3 10cm", "id": "full"}, NOON, path)["outcome"] == "recorded"
    sound(path)
