"""Files into the garden by page: chosen, looked over before anything is added, added, and taken back if need be."""

from __future__ import annotations

import csv
import io
import tempfile
from collections import Counter
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any
from urllib.parse import urlencode

from flask import Blueprint, Response, render_template, request
from werkzeug.datastructures import FileStorage
from werkzeug.exceptions import RequestEntityTooLarge
from werkzeug.wrappers import Response as Answer

from advisor.doors.page.forms import Input
from advisor.doors.page.frame import site
from advisor.doors.page.records_options import asked, in_page_words, kind_inputs
from advisor.doors.page.records_shared import see, speech_of
from advisor.doors.page.records_uploads import LARGEST_BYTES, MOST_FILES, Kept, Uploads
from advisor.doors.page.records_words import differences, kind_called
from advisor.errors import BadInput, NotFound, RowFault
from advisor.language.render import Speech, sentence_case
from advisor.records.exporting import HISTORY, cell, is_history, restore_history
from advisor.records.importing import Imported, import_path
from advisor.records.store import Garden

pages = Blueprint("records_import", __name__)
FAULTS_SHOWN = 200
CHANGES_SHOWN = 100
BESIDE_BYTES = 64 * 1024
"""What a form of files holds beside the files."""
LIMIT = f"{LARGEST_BYTES // (1024 * 1024)} MB"
OPTIONS = ("station", "unit", "clock", "order")


def uploads() -> Uploads:
    """Return the uploads to the garden of this request."""
    return Uploads(site().garden_path())


@pages.get("/records/import")
def choose_files() -> str:
    """Show the form that takes files."""
    return _choose()


def _choose(fault: str = "") -> str:
    kinds = [kind for kind in site().adviser.base.kinds.values() if kind.origin == "recorded"]
    return render_template(
        "records_import.html", fault=fault, limit=LIMIT, most=MOST_FILES, kinds=kinds, kind_called=kind_called
    )


@pages.post("/records/import")
def take_files() -> Answer | tuple[str, int]:
    """Keep the files that were sent, and show what they would bring."""
    request.max_content_length = LARGEST_BYTES + BESIDE_BYTES
    files: list[FileStorage] = []
    try:
        files = request.files.getlist("files")
        token = uploads().keep(files, site().now())
    except RequestEntityTooLarge:
        do = "send them in several goes, or import them on the machine itself with the command advisor import"
        return _choose(f"These files are larger than {LIMIT} together, which is the most at one time: {do}."), 413
    except BadInput as error:
        return _choose(f"{sentence_case(error.found)}. {error.do}."), error.status
    finally:
        for file in files:
            file.close()
    return see(f"/records/import/{token}")


@contextmanager
def _garden(*, write: bool = False) -> Iterator[Garden]:
    """Open the garden; where there is no file yet, an empty one that is thrown away unless it is to be written."""
    if write or site().garden_path().exists():
        with site().open(create=True) as garden:
            yield garden
        return
    with tempfile.TemporaryDirectory() as folder, site().adviser.open(Path(folder) / "none.db", create=True) as garden:
        yield garden


# ---- the preview


@dataclass(frozen=True, slots=True)
class Preview:
    """What an import would do, in the grower's words."""

    outcome: Imported
    added: list[tuple[str, int, int]]
    changes: list[tuple[str, str, list[str]]]
    notes: list[str]
    faults: list[RowFault]
    fields: list[Input]


@pages.get("/records/import/<token>")
def show_preview(token: str) -> str | Answer:
    """Show what the files would bring, and what is wrong with them."""
    kept = uploads().find(token, site().now())
    if kept.then:
        return see(kept.then)
    return _preview(token, kept, request.args)


def _preview(token: str, kept: Kept, given: Mapping[str, str], fault: str = "") -> str:
    with _garden() as garden:
        history = _history(garden, kept)
        if history:
            return render_template("records_history.html", token=token, history=history, names=kept.names)
        outcome = _import(garden, kept, given, dry_run=True)
        shown = _shown(garden, kept, given, outcome)
    posted = {name: value for name, value in given.items() if value and (name in OPTIONS or name.startswith("kind-"))}
    return render_template(
        "records_preview.html",
        token=token, names=kept.names, shown=shown, count=len(outcome.faults), most=FAULTS_SHOWN, fault=fault,
        total=sum(outcome.added.values()), changes_most=CHANGES_SHOWN, options=posted,
        faults_link=f"/records/import/{token}/faults.csv" + (f"?{urlencode(posted)}" if posted else ""),
        by_file=Counter(one.file for one in outcome.faults), kind_called=kind_called,
    )  # fmt: skip


def _import(garden: Garden, kept: Kept, given: Mapping[str, str], *, dry_run: bool, keep_good: bool = True) -> Imported:
    """Import what is kept, or say what that would do. Raises as ``import_path`` does."""
    kinds = {name: kind for at, name in enumerate(kept.names) if (kind := given.get(f"kind-{at}", ""))}
    recorded = {name for name, kind in garden.kinds.items() if kind.origin == "recorded"}
    return import_path(
        garden, kept.files, site().adviser.lore, site().now(),
        kinds={name: kind for name, kind in kinds.items() if kind in recorded},
        station=given.get("station", "").strip()[:80],
        temperature_unit=_one_of(given, "unit", ("c", "f")), clock=_one_of(given, "clock", ("local", "winter")),
        date_order=_one_of(given, "order", ("day-first", "month-first")), dry_run=dry_run, keep_good=keep_good,
    )  # fmt: skip


def _one_of(given: Mapping[str, str], name: str, allowed: tuple[str, ...]) -> str:
    return given.get(name, "") if given.get(name, "") in allowed else ""


def _shown(garden: Garden, kept: Kept, given: Mapping[str, str], outcome: Imported) -> Preview:
    speech = speech_of(garden)
    added = [(kind_called(k), count, outcome.changed.get(k, 0)) for k, count in sorted(outcome.added.items())]
    return Preview(
        outcome, added, list(_changes(garden, outcome, speech)), [in_page_words(note) for note in outcome.notes],
        [RowFault(f.file, f.line, f.field, f.found, in_page_words(f.wanted)) for f in outcome.faults[:FAULTS_SHOWN]],
        [*kind_inputs(kept.names, garden, outcome, given), *asked(garden, outcome, given)],
    )  # fmt: skip


def _changes(garden: Garden, outcome: Imported, speech: Speech) -> Iterator[tuple[str, str, list[str]]]:
    """Yield what each row changes of an older one: where it stands, which one, and what is otherwise."""
    for one in outcome.changes[:CHANGES_SHOWN]:
        kind = garden.kinds[one.kind]
        about = " ".join(str(one.before[name]) for name in kind.same_when if isinstance(one.before.get(name), str))
        said = differences(one.before, {**one.before, **one.now}, kind, speech)
        yield f"{one.file}, line {one.line}", f"{kind_called(one.kind)} {about}", said


@pages.get("/records/import/<token>/faults.csv")
def faults_csv(token: str) -> Response:
    """Send every fault as CSV, cells guarded against formulas."""
    kept = uploads().find(token, site().now())
    with _garden() as garden:
        outcome = _import(garden, kept, request.args, dry_run=True)
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\n")
    writer.writerow(["file", "line", "field", "found", "wanted"])
    for one in outcome.faults:
        writer.writerow([cell(v) for v in (one.file, one.line or "", one.field, one.found, in_page_words(one.wanted))])
    answer = Response(text.getvalue(), mimetype="text/csv")
    answer.headers["Content-Disposition"] = 'attachment; filename="faults.csv"'
    return answer


# ---- added


@pages.post("/records/import/<token>")
def add_files(token: str) -> Answer | tuple[str, int]:
    """Add what the files hold: all of it, or the sound rows where that was asked for."""
    kept = uploads().find(token, site().now())
    keep_good = request.form.get("rows") == "sound"
    with kept.alone():
        if kept.then:
            return see(kept.then)
        with _garden(write=True) as garden:
            if _history(garden, kept):
                return _restore(garden, kept)
            try:
                outcome = _import(garden, kept, request.form, dry_run=False, keep_good=keep_good)
            except BadInput:
                return _preview(token, kept, request.form, "Nothing was added: there are faults, named below."), 422
        if outcome.told is None:
            return _preview(token, kept, request.form, "Nothing was added: nothing in the files is new."), 409
        left = f"&left={len(outcome.faults)}" if outcome.faults else ""
        kept.led_to(f"/records/told/{outcome.told[0]}-{outcome.told[1]}?new=1{left}")
    return see(kept.then)


# ---- a whole history


def _history(garden: Garden, kept: Kept) -> dict[str, Any] | None:
    """Return what a whole history among the files is, None where there is none."""
    found = next((name for name in kept.names if is_history(kept.files / name)), None)
    if found is None:
        return None
    try:
        rows = restore_history(garden, kept.files / found, dry_run=True)
    except BadInput as error:
        return {"name": found, "why_not": f"{error.found}. {error.do}"}
    return {"name": found, "rows": rows}


def _restore(garden: Garden, kept: Kept) -> Answer | tuple[str, int]:
    found = next((name for name in kept.names if is_history(kept.files / name)), HISTORY)
    try:
        restore_history(garden, kept.files / found)
    except BadInput as error:
        raise NotFound("restoring a garden", error.found, error.do) from error
    kept.led_to("/records")
    return see(kept.then)
