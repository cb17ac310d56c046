"""One row told by form once, however often the form is sent: a double tap, a reload, a bad line that sends twice."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime

from advisor.records.by_form import told_row
from advisor.records.species import Lore
from advisor.records.store import Garden, Said


def said_under(garden: Garden, ref: str) -> bool:
    """Return whether something was told under a form's own reference, in use still or not."""
    with garden.trouble("reading"):
        found = garden.db.conn.execute("SELECT 1 FROM said WHERE ref = ? AND via != 'undo' LIMIT 1", [ref]).fetchone()
    return found is not None


def add_once(garden: Garden, lore: Lore, kind: str, cells: Mapping[str, str], said: Said, now: datetime) -> bool:
    """Record what a form tells under the reference of ``said``; return False where the same is recorded already.

    A second sending under the same reference records nothing and returns True, also where two come at once. Raises as
    ``told_row`` does.
    """
    if said_under(garden, said.ref):
        return True
    row = told_row(garden, lore, kind, cells, now)
    if row is None:
        return False
    with garden.writing("adding to"):
        if not said_under(garden, said.ref):
            garden.add_within([(said, [row])])
    return True
