"""The picture command: what a picture shows in words, and its drawing or its table as a file."""

from __future__ import annotations

import tempfile
from datetime import UTC, date, datetime
from pathlib import Path

import click

from advisor.config import Settings
from advisor.conversation import Adviser
from advisor.doors.demo import DEMO_DAY, load_demo
from advisor.doors.drawing import library
from advisor.doors.drawing.catalogue import Gallery, check_name, read_choice
from advisor.doors.drawing.look import SIZES, THEMES, Look
from advisor.doors.drawing.telling import Telling
from advisor.doors.files_commands import GARDEN
from advisor.errors import BadInput

FORMS = (".svg", ".png", ".csv")


@click.command(epilog='Example: advisor picture soil --spot "shed bed" --out soil.svg')
@click.argument("name", metavar="NAME")
@click.option("--spot", multiple=True, help="Of this spot; may be given several times.")
@click.option("--plant", help="Of this plant.")
@click.option("--kind", help="Of this kind of tree.")
@click.option("--year", help="Of this growing year.")
@click.option("--out", type=click.Path(path_type=Path), help="Write a drawing (.svg, .png) or the table (.csv).")
@click.option("--theme", default="light", show_default=True, help=f"One of {', '.join(THEMES)}.")
@click.option("--size", default="wide", show_default=True, help=f"One of {', '.join(SIZES)}.")
@click.option("--today", type=click.DateTime(["%Y-%m-%d"]), help="As of this day.")
@GARDEN
def picture(
    name: str,
    spot: tuple[str, ...],
    plant: str | None,
    kind: str | None,
    year: str | None,
    out: Path | None,
    theme: str,
    size: str,
    today: datetime | None,
    garden: Path | None,
) -> None:
    """Say what a picture shows, and draw it into a file: advisor picture soil --out soil.svg

    NAME is tonight, soil, stages, season, frost-years or sun. Without a garden of your own, the invented demo garden is
    pictured.
    """
    check_name(name)
    look = Look(theme, size)
    if out is not None and out.suffix.lower() not in FORMS:
        raise BadInput("reading --out", f"a file {out.name}", f"Let it end in {', '.join(FORMS)}")
    given = {"spot": list(spot), "plant": [plant or ""], "kind": [kind or ""], "year": [year or ""]}
    settings = Settings.from_environment()
    adviser, chosen = Adviser.load(settings), garden or settings.garden
    day = today.date() if today else None
    with tempfile.TemporaryDirectory() as folder:
        if garden is None and not chosen.exists():
            click.echo("(The invented demo garden is pictured; --garden FILE names your own.)\n")
            chosen, day = load_demo(adviser, Path(folder)), day or DEMO_DAY
        telling = _tell(adviser, chosen, name, given, day)
    click.echo(telling.question)
    for line in telling.says:
        click.echo(f"  {line}")
    for line in telling.limits:
        click.echo(f"  Mind: {line}")
    if out is not None:
        _write(telling, look, out)
        click.echo(f"Written to {out}.")


def _tell(adviser: Adviser, path: Path, name: str, given: dict[str, list[str]], day: date | None) -> Telling:
    with adviser.open(path) as opened:
        choice = read_choice(adviser, opened, given)
        return Gallery(adviser, opened, day or datetime.now(UTC).astimezone(opened.zone()).date()).tell(name, choice)


def _write(telling: Telling, look: Look, out: Path) -> None:
    """Write the file that its ending asks for. Raise BadInput where it cannot be written."""
    form = out.suffix.lower()
    if form == ".csv":
        content = telling.csv().encode()
    else:
        sheet = telling.sheet(look)
        content = library.png(sheet) if form == ".png" else library.svg(sheet).encode()
    try:
        out.write_bytes(content)
    except OSError as error:
        raise BadInput(f"writing {out}", error.strerror or "it cannot be written", "Name another file") from None
