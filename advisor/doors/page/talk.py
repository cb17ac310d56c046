"""The talk: what was said, what was answered and why, and the box to go on."""

from __future__ import annotations

from flask import Blueprint, render_template

pages = Blueprint("talk", __name__)


@pages.get("/")
def home() -> str:
    """Show the page."""
    return render_template("talk.html")
