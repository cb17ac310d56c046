"""Everything in the garden file, as a zip: a CSV file a kind and the whole history."""

from __future__ import annotations

import re
import tempfile
import zipfile
from pathlib import Path

from flask import Blueprint, send_file
from werkzeug.wrappers import Response as Answer

from advisor.doors.page.frame import site
from advisor.doors.page.records_shared import today_of
from advisor.records.exporting import export_folder

pages = Blueprint("records_download", __name__)


@pages.get("/records/download")
def download() -> Answer:
    """Send the garden's records as a zip, from a temporary file that goes when it is sent."""
    with site().open() as garden:
        name = garden.place().text("name") if garden.of("place") else "garden"
        plain = re.sub(r"[^A-Za-z0-9]+", "-", name).strip("-").casefold() or "garden"
        day = today_of(garden).isoformat()
        packed = tempfile.TemporaryFile()  # noqa: SIM115  # it outlives this function, and closes with the answer
        try:
            with tempfile.TemporaryDirectory() as folder:
                export_folder(garden, Path(folder))
                with zipfile.ZipFile(packed, "w", zipfile.ZIP_DEFLATED) as made:
                    for file in sorted(Path(folder).iterdir()):
                        made.write(file, file.name)
            packed.seek(0)
            answer = send_file(
                packed, "application/zip", as_attachment=True, download_name=f"records-{plain}-{day}.zip"
            )
        except BaseException:
            packed.close()
            raise
    answer.headers["Cache-Control"] = "private, no-store"
    return answer
