"""The tables of a garden file: a few fixed ones by numbered migrations, and one a recorded kind, made from its file.

A row is never changed. ``thing`` gives each place, spot and plant an identity that outlives its name; ``said`` is
who said something, when and where; ``ruling`` takes a row out of use, or brings it back, and may name the row that
stands for it now. The latest ruling on a row holds.
"""

from __future__ import annotations

from contextlib import closing

from sqlite_utils import Database, Migrations
from sqlite_utils.db import Table

from advisor.records.kinds import Field, Kind, Vocabulary

THINGS = ("place", "spot", "plant")
"""The kinds whose rows describe a thing with a name."""

COLUMN_TYPES: dict[str, type] = {"number": float, "whole": int, "yes_no": int, "spot": int, "plant": int}

migrations = Migrations("advisor")


@migrations(name="0001_messages_and_sayings")
def _first(db: Database) -> None:
    db.table("thing").create({"id": int, "kind": str}, pk="id", not_null={"kind"})
    db.table("said").create(
        {"id": int, "via": str, "ref": str, "digest": str, "said_by": str, "said_at": str},
        pk="id",
        not_null={"via", "ref", "said_at"},
    )
    db.table("ruling").create(
        {"id": int, "kind": str, "row_id": int, "in_use": int, "replaced_by": int, "reason": str, "said_id": int},
        pk="id",
        not_null={"kind", "row_id", "in_use", "said_id"},
        foreign_keys=[("said_id", "said", "id")],
    )
    db.table("ruling").create_index(["kind", "row_id", "id"])
    db.table("message").create(
        {"id": str, "text": str, "received_at": str, "sent_at": str, "outcome": str, "reply": str},
        pk="id",
        not_null={"text", "received_at"},
    )
    db.table("message").create_index(["received_at"])


@migrations(name="0002_tries")
def _second(db: Database) -> None:
    db.table("message").add_column("tries", int)


@migrations(name="0003_sayings_found_by_what_they_are_of")
def _third(db: Database) -> None:
    db.table("said").create_index(["ref"])
    db.table("ruling").create_index(["said_id"])


@migrations(name="0004_what_programs_send_by_its_key")
def _fourth(db: Database) -> None:
    db.table("keyed").create(
        {"key": str, "digest": str, "at": str, "reply": str}, pk="key", not_null={"digest", "at", "reply"}
    )


def column_type(field: Field) -> type:
    """Return the type under which a field is stored; names of spots and plants are stored as their thing's id."""
    return COLUMN_TYPES.get(field.type, str)


def make_tables(db: Database, kinds: Vocabulary) -> None:
    """Bring a garden file up to date: pending migrations, a table a new kind, a column a new field."""
    migrations.apply(db)
    for kind in kinds.values():
        if kind.origin != "recorded":
            continue
        table = db.table(kind.name)
        if not table.exists():
            _create(table, kind)
        there = table.columns_dict
        for field in kind.fields.values():
            if field.name not in there:
                table.add_column(field.name, column_type(field))
        for columns in _indexes(kind):
            table.create_index(columns, if_not_exists=True)


def _indexes(kind: Kind) -> list[list[str]]:
    """Return the columns by which a kind's rows are found without reading all of them."""
    about = [[name, kind.holds_on] for name in ("plant", "spot") if kind.holds_on and name in kind.fields]
    return [["said_id"], *([[kind.holds_on]] if kind.holds_on else []), *about]


def tables_missing(db: Database, kinds: Vocabulary) -> bool:
    """Return whether ``make_tables`` would change anything. Reads only."""
    there = set(db.table_names())
    if migrations.migrations_table not in there or migrations.pending(db):
        return True
    recorded = [kind for kind in kinds.values() if kind.origin == "recorded"]
    indexes = {name for (name,) in db.execute("SELECT name FROM sqlite_master WHERE type = 'index'")}
    return any(
        kind.name not in there
        or set(kind.fields) - set(db.table(kind.name).columns_dict)
        or any(f"idx_{'_'.join([kind.name, *columns])}" not in indexes for columns in _indexes(kind))
        for kind in recorded
    )


def tables_told(db: Database) -> str:
    """Return all that ``tables_missing`` and ``made_by_later`` look at as one text, "" where no table is ours."""
    each = "SELECT name || ' ' || COALESCE(sql, '') AS told FROM sqlite_master ORDER BY name"
    there = db.execute(f"SELECT group_concat(told, char(10)) FROM ({each})").fetchone()[0]
    if not there or migrations.migrations_table not in there:
        return ""
    applied = db.execute(f"SELECT group_concat(migration_set || ' ' || name) FROM {migrations.migrations_table}")
    return f"{there} {applied.fetchone()[0]}"


def made_by_later(db: Database) -> list[str]:
    """Return the migrations of a garden file that this program does not know: a later version brought them."""
    with closing(Database(memory=True)) as empty:
        known = {one.name for one in migrations.pending(empty)}
    return sorted(one.name for one in migrations.applied(db) if one.name not in known)


def _create(table: Table, kind: Kind) -> None:
    columns: dict[str, type] = {"id": int, "said_id": int, "line": int, "words": str}
    keys = [("said_id", "said", "id")]
    if kind.name in THINGS:
        columns["thing_id"] = int
        keys.append(("thing_id", "thing", "id"))
    for field in kind.fields.values():
        columns[field.name] = column_type(field)
        if field.type in ("spot", "plant"):
            keys.append((field.name, "thing", "id"))
    needed = {"said_id"} | {field.name for field in kind.fields.values() if field.required}
    table.create(columns, pk="id", not_null=needed, foreign_keys=keys)
