"""Commands about the records themselves: list, show, correct, retire, undo, history; and the garden on a day."""

from __future__ import annotations

import difflib
from collections.abc import Sequence
from datetime import UTC, datetime, time
from pathlib import Path
from typing import Any

import click

from advisor.config import Settings
from advisor.doors.files_commands import GARDEN, JSON, as_json_text, open_garden, plain
from advisor.errors import BadInput
from advisor.facts import Fact, Recorded, Value
from advisor.reasoning.state import State, garden_state
from advisor.records.by_form import corrected_values
from advisor.records.corrections import correct as correct_row
from advisor.records.corrections import retire as retire_row
from advisor.records.corrections import rulings
from advisor.records.corrections import undo as undo_saying
from advisor.records.species import load_lore
from advisor.records.store import Garden, Said


@click.group(epilog='Example: advisor records list stage --plant "shed fig"')
def records() -> None:
    """Look at the records and put them right: list, show, history, correct, retire, undo."""


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
    return "yes" if value is True else "no" if value is False else plain(value)


@records.command("list", epilog="Example: advisor records list soil_reading --spot 'shed bed' --since 2026-04-01")
@click.argument("kind")
@click.option("--plant", help="Only of this plant.")
@click.option("--spot", help="Only of this spot.")
@click.option("--since", type=click.DateTime(["%Y-%m-%d"]), help="Only from this day on.")
@click.option("--known-on", type=click.DateTime(["%Y-%m-%d"]), help="Only what was told by the end of this day.")
@JSON
@GARDEN
def list_(
    kind: str, plant: str | None, spot: str | None, since: datetime | None, known_on: datetime | None, as_json: bool,
    garden: Path | None,
) -> None:  # fmt: skip
    """List the rows of a kind that are in use, in the order told."""
    as_of = None
    if known_on:
        with open_garden(garden) as opened:  # a day ends at midnight where the garden is
            zone = opened.zone() if opened.of("place") else UTC
        as_of = datetime.combine(known_on.date(), time.max, zone)
    with open_garden(garden, as_of=as_of) as opened:
        if kind not in opened.kinds or opened.kinds[kind].origin != "recorded":
            recorded = ", ".join(name for name, spec in opened.kinds.items() if spec.origin == "recorded")
            raise BadInput("listing records", f"no recorded kind {kind!r}", f"Use one of {recorded}")
        plant, spot = (_called(opened, of, name) if name and not known_on else name
                       for of, name in (("plant", plant), ("spot", spot)))  # fmt: skip
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


@records.command("correct", epilog='Example: advisor records correct stage/12 on=2026-04-18 --reason "was Saturday"')
@click.argument("record")
@click.argument("changes", nargs=-1, required=True, metavar="FIELD=VALUE...")
@click.option("--reason", required=True, help="Why; it is kept with the row.")
@GARDEN
def correct(record: str, changes: Sequence[str], reason: str, garden: Path | None) -> None:
    """Put a row right: a new row stands for it from now on. FIELD= with nothing after it takes a value away."""
    kind, row_id = _row_ref(record)
    told = dict(_change(change) for change in changes)
    settings, now = Settings.from_environment(), datetime.now(UTC)
    with open_garden(garden) as opened:
        values = corrected_values(opened, load_lore(settings.rules), kind, row_id, told, now)
        new_id = correct_row(opened, kind, row_id, values, Said("command", "records correct", now), reason=reason)
        line = _line({"record": f"{kind}/{new_id}", **opened.values_of(kind, new_id)})
    click.echo(f"{line}\nstands for {record} from now on: {reason}")


def _change(text: str) -> tuple[str, str]:
    name, equals, value = text.partition("=")
    if not equals or not name.strip():
        raise BadInput("correcting a record", repr(text), "Write each change as FIELD=VALUE, such as on=2026-04-18")
    return name.strip(), value.strip()


@records.command("undo", epilog="Example: advisor records undo stage.csv")
@click.argument("ref")
@GARDEN
def undo(ref: str, garden: Path | None) -> None:
    """Take back the last import of a file, or a message by its id; what it changed comes back."""
    with open_garden(garden) as opened:
        taken = undo_saying(opened, ref, Said("undo", ref, datetime.now(UTC)))
    click.echo(f"{len(taken)} rows of {ref} are out of use, and what they stood for is back")


@records.command("history", epilog="Example: advisor records history --plant 'shed fig'")
@click.option("--plant", required=True, help="Whose history.")
@JSON
@GARDEN
def history(plant: str, as_json: bool, garden: Path | None) -> None:
    """Tell everything recorded of a plant in the order in which it held."""
    with open_garden(garden) as opened:
        plant = _called(opened, "plant", plant)
        found = []
        for kind in opened.kinds.values():
            if kind.origin == "recorded" and "plant" in kind.fields and kind.holds_on:
                for fact in opened.of(kind.name):
                    if fact.get("plant") == plant:
                        found.append((plain(fact.values[kind.holds_on]), _row_data(fact)))
    found.sort(key=lambda entry: entry[0])
    if as_json:
        click.echo(as_json_text([row for _, row in found]))
        return
    for when, row in found:
        click.echo(f"{when[:10]}  {_line(row)}")
    if not found:
        click.echo(f"nothing is recorded of {plant} yet")


def _called(garden: Garden, kind: str, name: str) -> str:
    """Return a spot or plant as it is recorded, capitals aside; else raise BadInput with the nearest name."""
    names = {known.casefold(): known for known in garden.names(kind)}
    if name.casefold() in names:
        return names[name.casefold()]
    near = difflib.get_close_matches(name.casefold(), names, n=1)
    do = f"Did you mean {names[near[0]]!r}?" if near else f"Known are {', '.join(sorted(names.values()))}"
    raise BadInput("looking up records", f"no {kind} called {name!r}", do)


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
        soil = f"; soil {spot['soil_c']:.1f} °C {_ago(spot['soil_age_days'])}" if spot["soil_c"] is not None else ""
        lines.append(f"  {spot['spot']}: {cover}{soil}")
    lines += ["", "Plants"]
    for plant in state.plants:
        where = f"{plant['growing'] or 'growing not told'} at {plant['spot'] or 'a spot that is not clear'}"
        stage = f"; {plant['stage']}, seen {_ago(plant['stage_age_days'])}" if plant["stage"] else "; no stage recorded"
        lines.append(f"  {plant['plant']} ({plant['species']}): {where}{stage}")
    if state.contradictions:
        lines += ["", "Records that cannot all be true"]
        lines += [f"  {one.says} ({', '.join(one.records)})" for one in state.contradictions]
    return "\n".join(lines)


def _ago(days: int) -> str:
    return {0: "today", 1: "yesterday"}.get(days, f"{days} days ago")
