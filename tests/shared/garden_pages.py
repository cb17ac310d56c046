"""Gardens for tests of the garden's pages, and what those tests read off a page."""

from __future__ import annotations

import html
import re
from collections.abc import Mapping
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path
from urllib.parse import quote
from xml.etree import ElementTree

from flask.testing import FlaskClient

from advisor.conversation import Adviser
from advisor.doors.http import create_app
from advisor.facts import Value
from advisor.records.importing import import_path
from advisor.records.store import Garden, NewRow, Said

FIXTURES = Path(__file__).resolve().parents[2] / "fixtures"
LATER = datetime(2026, 4, 28, 12, tzinfo=UTC)
"""A time at which every record of the fixtures has come."""
ODD = ("a/b", "<b>bold</b>", "été", 'the "old" one\'s', "a & b", "50%", "x?y#z", "a//b", "梨の木", "W" * 40)
SAID = Said("file", "test", datetime(2026, 4, 24, tzinfo=UTC))


def imported(adviser: Adviser, folder: str, path: Path) -> Path:
    """Import a garden of the fixtures into a new file."""
    with adviser.open(path, create=True) as garden:
        import_path(garden, FIXTURES / folder, adviser.lore, LATER)
    return path


def told(adviser: Adviser, path: Path, *rows: tuple[str, Mapping[str, Value]], units: str = "metric") -> Path:
    """Write a new garden file with a place and some rows."""
    place = {"name": "P", "latitude_deg": 47.0, "longitude_deg": 15.0, "time_zone": "Europe/Vienna", "units": units}
    with adviser.open(path, create=True) as garden:
        garden.add([(SAID, [NewRow("place", place), *(NewRow(kind, values) for kind, values in rows)])])
    return path


def client_for(adviser: Adviser, path: Path, now: datetime) -> FlaskClient:
    """Return a client to a garden at a time that asks for pages as a browser does."""
    own = replace(adviser, settings=replace(adviser.settings, garden=path))
    client = create_app(own, lambda: now).test_client()
    client.environ_base["HTTP_ACCEPT"] = "text/html"
    return client


def page(client: FlaskClient, path: str, status: int = 200) -> str:
    """Return a page's text; it must be of that status."""
    answer = client.get(path)
    assert answer.status_code == status, answer.get_data(as_text=True)
    return answer.get_data(as_text=True)


def words(text: str) -> str:
    """Return what a page says, without its marks."""
    return " ".join(html.unescape(re.sub(r"<[^>]*>", " ", text)).split())


def drawing(text: str) -> ElementTree.Element:
    """Return a page's plan, read as XML, so that whatever a name holds is escaped."""
    (found,) = re.findall(r'<svg [^>]*role="group".*?</svg>', text, re.S)
    return ElementTree.fromstring(found)


def to(of: str, name: str) -> str:
    return f"/garden/{of}/{quote(name, safe='')}"


def stages_of(adviser: Adviser, path: Path, plant: str) -> list[tuple[str, int]]:
    """Return the stages in use of a plant, as day and code."""
    with adviser.open(path) as garden:
        return [
            (str(fact.day("on")), int(fact.number("bbch") or 0))
            for fact in garden.of("stage")
            if fact.text("plant") == plant
        ]


def opened(adviser: Adviser, path: Path) -> Garden:
    return adviser.open(path)
