"""The rule book: every rule in plain words, with its sources, its cases and what came of it here."""

from __future__ import annotations

from flask import Blueprint, render_template

pages = Blueprint("rule_book", __name__)


@pages.get("/rules")
def show_rules() -> str:
    """Show the page."""
    return render_template("rule_book.html")
