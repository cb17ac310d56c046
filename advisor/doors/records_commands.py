"""Commands about the records themselves: import, export, records, garden."""

from __future__ import annotations

import json
from collections.abc import Iterable
from datetime import UTC, date, datetime
from pathlib import Path
from typing import Any

import click

from advisor.config import Settings
from advisor.errors import BadInput
from advisor.facts import Fact, Recorded, Value
from advisor.reasoning.rulebase import load_rules
from advisor.reasoning.state import State, garden_state
from advisor.records.corrections import retire as retire_row
from advisor.records.corrections import rulings
from advisor.records.exporting import export_folder, is_history, restore_history
from advisor.records.importing import Imported, import_path
from advisor.records.species import load_lore
from advisor.records.store import Garden, Said

GARDEN = click.option("--garden", type=click.Path(path_type=Path), help="The garden file. [ADVISOR_GARDEN]")
JSON = click.option("--json", "as_json", is_flag=True, help="Print JSON.")
PROGRESS_FROM = 1_000_000


def open_garden(path: Path | None, *, create: bool = False, as_of: datetime | None = None) -> Garden:
    """Open the garden of the settings, or the one named."""
    settings = Settings.from_environment()
    kinds = load_rules(settings.rules).kinds
    return Garden(path or settings.garden, kinds, busy_s=settings.busy_s, create=create, as_of=as_of)


def as_json_text(content: object) -> str:
    return json.dumps(content, ensure_ascii=False, indent=2, default=_plain)


def _plain(value: Any) -> Any:
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
                    station=station, temperature_unit=temperature_unit or "", dry_run=dry_run, keep_good=keep_good,
                    progress=bar.update,
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
        "dry_run": outcome.dry, "added": outcome.added, "changed": outcome.changed, "known_rows": outcome.known_rows,
        "known_files": outcome.known_files, "notes": outcome.notes, "faults": faults,
    }  # fmt: skip


def _outcome_text(outcome: Imported, name: str) -> str:
    lines = [f"{count:6} {kind.replace('_', ' ')}" for kind, count in sorted(outcome.added.items())]
    done = "rows would be added to" if outcome.dry else "rows added to"
    lines.append(f"{sum(outcome.added.values()):6} {done} {name}")
    if outcome.changed:
        lines.append(f"{sum(outcome.changed.values()):6} of them stand for an older row from now on")
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


@click.group(epilog='Example: advisor records list stage --plant "shed fig"')
def records() -> None:
    """Look at the records: list, show, retire, history."""


def _row_ref(text: str) -> tuple[str, int]:
    kind, _, number = text.partition("/")
    if not number.isdigit():
        raise BadInput("reading the record's name", repr(text), "Name it as an answer does: stage/12")
    return kind, int(number)


def _row_data(fact: Fact) -> dict[str, Any]:
    assert isinstance(fact.origin, Recorded)
    return {"record": f"{fact.kind}/{fact.origin.row_ids[0]}", **fact.values}


def _line(values: dict[str, Any]) -> str:
    told = [f"{name} {_shown(value)}" for name, value in values.items() if name != "record"]
    return f"{values['record']}: {', '.join(told)}"


def _shown(value: Value) -> str:
    return (
        "yes" if value is True else "no" if value is False else str(_plain(value) if isinstance(value, date) else value)
    )


@records.command("list", epilog="Example: advisor records list soil_reading --spot 'shed bed' --since 2026-04-01")
@click.argument("kind")
@click.option("--plant", help="Only of this plant.")
@click.option("--spot", help="Only of this spot.")
@click.option("--since", type=click.DateTime(["%Y-%m-%d"]), help="Only from this day on.")
@click.option("--known-on", type=click.DateTime(["%Y-%m-%d"]), help="As the file stood at the end of this day.")
@JSON
@GARDEN
def list_(
    kind: str, plant: str | None, spot: str | None, since: datetime | None, known_on: datetime | None, as_json: bool,
    garden: Path | None,
) -> None:  # fmt: skip
    """List the rows of a kind that are in use, in the order told."""
    as_of = known_on.replace(hour=23, minute=59, second=59, tzinfo=UTC) if known_on else None
    with open_garden(garden, as_of=as_of) as opened:
        if kind not in opened.kinds or opened.kinds[kind].origin != "recorded":
            recorded = ", ".join(name for name, spec in opened.kinds.items() if spec.origin == "recorded")
            raise BadInput("listing records", f"no recorded kind {kind!r}", f"Use one of {recorded}")
        holds_on = opened.kinds[kind].holds_on
        rows = [
            _row_data(fact)
            for fact in opened.of(kind)
            if (not plant or fact.get("plant") == plant or (kind == "plant" and fact.get("name") == plant))
            and (not spot or fact.get("spot") == spot or (kind == "spot" and fact.get("name") == spot))
            and (not since or not holds_on or ((day := fact.day(holds_on)) is not None and day >= since.date()))
        ]
    if as_json:
        click.echo(as_json_text(rows))
        return
    for row in rows:
        click.echo(_line(row))
    click.echo(f"{len(rows)} in use")


@records.command("show", epilog="Example: advisor records show stage/12")
@click.argument("record")
@JSON
@GARDEN
def show(record: str, as_json: bool, garden: Path | None) -> None:
    """Show one row: what it says, who said it, when and where, and whether it is in use."""
    kind, row_id = _row_ref(record)
    with open_garden(garden) as opened:
        stored = opened.row(kind, row_id)
        data = {
            "record": record, **opened.values_of(kind, row_id), "words": stored["words"], "line": stored["line"],
            "said": {name: stored["said"][name] for name in ("said_by", "said_at", "via", "ref")},
            "rulings": rulings(opened, kind, row_id),
        }  # fmt: skip
    data["in_use"] = not data["rulings"] or bool(data["rulings"][-1]["in_use"])
    if as_json:
        click.echo(as_json_text(data))
        return
    skip = ("words", "line", "said", "rulings", "in_use")
    click.echo(_line({name: value for name, value in data.items() if name not in skip and value is not None}))
    said = data["said"]
    at = f", line {data['line']}" if data["line"] else ""
    click.echo(
        f"said {said['said_at'][:16]} {said['said_by'] or ''} by {said['via']} {said['ref']}{at}".replace("  ", " ")
    )
    if data["words"]:
        click.echo(f'in these words: "{data["words"]}"')
    for ruling in data["rulings"]:
        click.echo(_ruling(ruling))
    click.echo("in use" if data["in_use"] else "not in use")


def _ruling(ruling: dict[str, Any]) -> str:
    what = "brought back" if ruling["in_use"] else "taken out of use"
    instead = f", {ruling['kind']}/{ruling['replaced_by']} stands for it" if ruling["replaced_by"] else ""
    return f"{what} {ruling['said_at'][:16]}: {ruling['reason']}{instead}"


@records.command("retire", epilog='Example: advisor records retire stage/12 --reason "wrong tree"')
@click.argument("record")
@click.option("--reason", required=True, help="Why; it is kept with the row.")
@GARDEN
def retire(record: str, reason: str, garden: Path | None) -> None:
    """Take a row out of use. It stays in the file; answers no longer rest on it."""
    kind, row_id = _row_ref(record)
    with open_garden(garden) as opened:
        retire_row(opened, kind, row_id, Said("command", "records retire", datetime.now(UTC)), reason=reason)
    click.echo(f"{record} is out of use: {reason}")


@records.command("history", epilog="Example: advisor records history --plant 'shed fig'")
@click.option("--plant", required=True, help="Whose history.")
@JSON
@GARDEN
def history(plant: str, as_json: bool, garden: Path | None) -> None:
    """Tell everything recorded of a plant in the order in which it held."""
    with open_garden(garden) as opened:
        found = []
        for kind in opened.kinds.values():
            if kind.origin == "recorded" and "plant" in kind.fields and kind.holds_on:
                for fact in opened.of(kind.name):
                    if fact.get("plant") == plant:
                        found.append((str(_plain(fact.values[kind.holds_on])), _row_data(fact)))
    found.sort(key=lambda entry: entry[0])
    if as_json:
        click.echo(as_json_text([row for _, row in found]))
        return
    for when, row in found:
        click.echo(f"{when[:10]}  {_line(row)}")
    if not found:
        click.echo(f"nothing is recorded of a plant called {plant!r}")


@click.command("garden", epilog="Example: advisor garden --on 2026-04-24")
@click.option("--on", "day", type=click.DateTime(["%Y-%m-%d"]), help="The day; today if none is named.")
@JSON
@GARDEN
def garden_command(day: datetime | None, as_json: bool, garden: Path | None) -> None:
    """Show the garden on a day: covers, where each plant stands and how far it is, and what cannot all be true."""
    settings = Settings.from_environment()
    with open_garden(garden) as opened:
        on = day.date() if day else datetime.now(opened.zone()).date()
        state = garden_state(opened, load_lore(settings.rules), on)
    click.echo(as_json_text(_state_data(state)) if as_json else _state_text(state))


def _state_data(state: State) -> dict[str, Any]:
    return {
        "day": state.day, "spots": state.spots, "plants": state.plants,
        "contradictions": [{"says": one.says, "records": one.records} for one in state.contradictions],
    }  # fmt: skip


def _state_text(state: State) -> str:
    lines = [f"The garden on {state.day.isoformat()}", "", "Spots"]
    for spot in state.spots:
        cover = f"{spot['cover']}, {spot['depth_cm']:g} cm" if spot["depth_cm"] else spot["cover"] or "cover not told"
        soil = f"; soil {spot['soil_c']:.1f} °C {spot['soil_age_days']} days ago" if spot["soil_c"] is not None else ""
        lines.append(f"  {spot['spot']}: {cover}{soil}")
    lines += ["", "Plants"]
    for plant in state.plants:
        where = f"{plant['growing'] or 'growing not told'} at {plant['spot'] or 'a spot that is not clear'}"
        age = plant["stage_age_days"]
        stage = f"; {plant['stage']}, seen {age} days ago" if plant["stage"] else "; no stage recorded"
        lines.append(f"  {plant['plant']} ({plant['species']}): {where}{stage}")
    if state.contradictions:
        lines += ["", "Records that cannot all be true"]
        lines += [f"  {one.says} ({', '.join(one.records)})" for one in state.contradictions]
    return "\n".join(lines)
