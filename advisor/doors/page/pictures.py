"""Pictures of the garden's records, each with what it shows in words and the table behind it."""

from __future__ import annotations

from flask import Blueprint, render_template

pages = Blueprint("pictures", __name__)


@pages.get("/pictures")
def show_pictures() -> str:
    """Show the page."""
    return render_template("pictures.html")
