"""Commands that bring files in and out: import and export. And what the commands about a garden share."""

from __future__ import annotations

import json
from collections.abc import Iterable
from datetime import UTC, date, datetime
from pathlib import Path
from typing import Any

import click

from advisor.config import Settings
from advisor.errors import BadInput
from advisor.reasoning.rulebase import load_rules
from advisor.records.exporting import export_folder, is_history, restore_history
from advisor.records.importing import Imported, import_path
from advisor.records.species import load_lore
from advisor.records.store import Garden

GARDEN = click.option("--garden", type=click.Path(path_type=Path), help="The garden file. [ADVISOR_GARDEN]")
JSON = click.option("--json", "as_json", is_flag=True, help="Print JSON.")
PROGRESS_FROM = 1_000_000
MOST_SHOWN = 20


def open_garden(path: Path | None, *, create: bool = False, as_of: datetime | None = None) -> Garden:
    """Open the garden of the settings, or the one named."""
    settings = Settings.from_environment()
    kinds = load_rules(settings.rules).kinds
    return Garden(path or settings.garden, kinds, busy_s=settings.busy_s, create=create, as_of=as_of)


def as_json_text(content: object) -> str:
    return json.dumps(content, ensure_ascii=False, indent=2, default=plain)


def plain(value: Any) -> str:
    """Return a value that JSON has no form for: dates and times by ISO 8601."""
    return value.isoformat() if isinstance(value, date) else str(value)


@click.command("import", epilog="Example: advisor import my-records --garden garden.db --dry-run")
@click.argument("path", type=click.Path(path_type=Path))
@click.option("--kind", help="The kind of the rows, where the file is not named after it.")
@click.option(
    "--column",
    "columns",
    multiple=True,
    metavar="THEIRS=OURS",
    help="A column of another name; OURS empty leaves it out.",
)
@click.option("--station", default="", help="Name of the weather station, where the file does not say.")
@click.option(
    "--temperature-unit", type=click.Choice(["c", "f"]), default=None, help="Of a weather file that does not say."
)
@click.option("--clock", type=click.Choice(["local", "winter"]), default=None,
              help="Of a weather logger: local changes to summer time, winter never changes.")  # fmt: skip
@click.option("--date-order", type=click.Choice(["day-first", "month-first"]), default=None,
              help="Of dates like 4/3/2026, where the file's is not the place's.")  # fmt: skip
@click.option("--dry-run", is_flag=True, help="Say what would be added, and add nothing.")
@click.option("--keep-good", is_flag=True, help="Let the sound rows in although others are wrong.")
@JSON
@GARDEN
def import_(
    path: Path,
    kind: str | None,
    columns: Iterable[str],
    station: str,
    temperature_unit: str | None,
    clock: str | None,
    date_order: str | None,
    dry_run: bool,
    keep_good: bool,
    as_json: bool,
    garden: Path | None,
) -> None:
    """Import a CSV or JSON Lines file, or a folder of them, or a whole history that was exported.

    All that is new goes in, or nothing and a list of what to mend. The same file twice adds nothing.
    """
    settings = Settings.from_environment()
    target = garden or settings.garden
    renamed = dict(_pair(column) for column in columns)
    fresh = not target.exists()
    try:
        with open_garden(garden, create=True) as opened:
            history = path / "history.jsonl" if path.is_dir() else path
            if is_history(history) and (path.is_file() or not _any_said(opened)):
                count = restore_history(opened, history, dry_run=dry_run)
                done = "would be restored" if dry_run else "restored"
                text = f"{count} rows {done} into {target.name}"
                click.echo(as_json_text({"restored": count, "dry_run": dry_run}) if as_json else text)
                return
            size = sum(p.stat().st_size for p in path.iterdir() if p.is_file()) if path.is_dir() else 0
            size = size or (path.stat().st_size if path.exists() else 0)
            hidden = as_json or size < PROGRESS_FROM
            with click.progressbar(length=max(size, 1), label="Reading", hidden=hidden) as bar:
                outcome = import_path(
                    opened, path, load_lore(settings.rules), datetime.now(UTC), kind=kind, renamed=renamed,
                    station=station, temperature_unit=temperature_unit or "", clock=clock or "",
                    date_order=date_order or "", dry_run=dry_run, keep_good=keep_good, progress=bar.update,
                )  # fmt: skip
    finally:
        if fresh and (dry_run or not _has_records(target, settings)):
            for leftover in (target, *(target.with_name(target.name + end) for end in ("-wal", "-shm"))):
                leftover.unlink(missing_ok=True)
    click.echo(as_json_text(_outcome_data(outcome)) if as_json else _outcome_text(outcome, target.name))


def _has_records(path: Path, settings: Settings) -> bool:
    if not path.exists():
        return True
    with Garden(path, load_rules(settings.rules).kinds) as opened:
        return _any_said(opened)


def _any_said(opened: Garden) -> bool:
    return bool(opened.db.conn.execute("SELECT 1 FROM said LIMIT 1").fetchone())


def _outcome_data(outcome: Imported) -> dict[str, Any]:
    faults = [
        {"file": f.file, "line": f.line, "field": f.field, "found": f.found, "wanted": f.wanted} for f in outcome.faults
    ]
    return {
        "dry_run": outcome.dry, "added": outcome.added, "changed": outcome.changed,
        "changes": [str(change) for change in outcome.changes],
        "known_rows": outcome.known_rows,
        "known_files": outcome.known_files, "notes": outcome.notes, "faults": faults,
    }  # fmt: skip


def _outcome_text(outcome: Imported, name: str) -> str:
    lines = [f"{count:6} {kind.replace('_', ' ')}" for kind, count in sorted(outcome.added.items())]
    done = "rows would be added to" if outcome.dry else "rows added to"
    lines.append(f"{sum(outcome.added.values()):6} {done} {name}")
    if outcome.changed:
        lines.append(f"{sum(outcome.changed.values()):6} of them stand for an older row from now on")
        lines += [f"       {change}" for change in outcome.changes[:MOST_SHOWN]]
        if len(outcome.changes) > MOST_SHOWN:
            lines.append(f"       and {len(outcome.changes) - MOST_SHOWN} more; --json lists them all")
    if outcome.known_rows:
        lines.append(f"{outcome.known_rows:6} rows were recorded already and passed over")
    if outcome.known_files:
        lines.append(f"       files imported before and passed over: {', '.join(outcome.known_files)}")
    lines += outcome.notes
    if outcome.faults:
        lines.append(f"{len(outcome.faults)} rows or cells left out:")
        lines += [f"  {fault}" for fault in outcome.faults]
    return "\n".join(lines)


def _pair(column: str) -> tuple[str, str]:
    theirs, equals, ours = column.partition("=")
    if not equals:
        raise BadInput("reading --column", repr(column), "Write it as THEIRS=OURS, such as temp_max=max_c")
    return theirs.strip(), ours.strip()


@click.command(epilog="Example: advisor export my-garden-files --garden garden.db")
@click.argument("folder", type=click.Path(path_type=Path))
@JSON
@GARDEN
def export(folder: Path, as_json: bool, garden: Path | None) -> None:
    """Write a garden into a new folder: a CSV file a kind, and history.jsonl with everything that was ever said.

    The CSV files go in again anywhere; the history goes into a new garden file and is that garden, row for row.
    """
    with open_garden(garden) as opened:
        counts = export_folder(opened, folder)
    if as_json:
        click.echo(as_json_text(counts))
        return
    for kind, count in sorted(counts.items()):
        click.echo(f"{count:6} {kind.replace('_', ' ')}")
    click.echo(f"{sum(counts.values()):6} rows written to {folder}, and history.jsonl beside them")
