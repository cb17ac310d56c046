"""The records: browse, add, put right, take out of use, import and download."""

from __future__ import annotations

from flask import Blueprint, render_template

pages = Blueprint("records", __name__)


@pages.get("/records")
def show_records() -> str:
    """Show the page."""
    return render_template("records.html")
