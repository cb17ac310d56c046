"""The garden: its spots and plants, a plan of them, each with its state, its advice and its history."""

from __future__ import annotations

from flask import Blueprint, render_template

pages = Blueprint("garden", __name__)


@pages.get("/garden")
def show_garden() -> str:
    """Show the page."""
    return render_template("garden.html")
