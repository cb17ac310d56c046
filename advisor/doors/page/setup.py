"""Setting up a garden: its place, spots, plants and weather."""

from __future__ import annotations

from flask import Blueprint, render_template

pages = Blueprint("setup", __name__)


@pages.get("/start")
def start() -> str:
    """Show the page."""
    return render_template("setup.html")
