"""What keeps the talk open without a signal: the worker that a browser runs beside the pages, and what it keeps."""

from __future__ import annotations

import json
from hashlib import sha256

from flask import Blueprint, Response, render_template

from advisor.doors.access.request import no_key_needed
from advisor.doors.page.frame import STATIC, asset

pages = Blueprint("offline", __name__)

KEPT = ("style.css", "talk.css", "talk.js", "icon.svg", "manifest.json")


@pages.get("/worker.js")
@no_key_needed
def worker() -> Response:
    """Serve the worker from the top, so that it may serve every page; its first line names the files that it keeps."""
    files = [asset(name) for name in KEPT]
    text = (STATIC / "worker.js").read_text(encoding="utf-8")
    version = sha256(json.dumps([files, text]).encode()).hexdigest()[:12]
    head = f"const VERSION = {json.dumps(version)}, FILES = {json.dumps(files)};\n"
    return Response(head + text, mimetype="text/javascript")


@pages.get("/no-signal")
def no_signal() -> str:
    """Show what stands in for a page that is not kept on the phone."""
    return render_template("no_signal.html")
