"""What an import by page asks: only what its files leave open, and in words that fit a page."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from pathlib import PurePosixPath

from advisor.doors.page.forms import Input
from advisor.doors.page.records_words import kind_called
from advisor.records.importing import Imported
from advisor.records.store import Garden
from advisor.records.weather_import import WEATHER

ON_A_PAGE = (
    (r"the name of a kind, or a column kind; the kinds are .*", "what it holds, chosen above"),
    (r"--station NAME: one of .*, or a new one", "the name of the station, chosen above"),
    (r"--station names it", "Station above names it"),
    (r"--clock local or winter", "which clock it keeps, chosen above"),
    (r"--clock winter if it never changes", "choose winter time above if its clock never changes"),
    (r"say --temperature-unit c or f, or name the column so", "choose °C or °F above, or name the column so"),
    (r"--temperature-unit c or f", "°C or °F, chosen above"),
    (r"--date-order says which the file has", "choose the order of day and month above"),
    (r", or --column THEIRS=(\w+)", ""),
    (r"a material of rules/materials\.toml: ", "one of "),
    (r"a species of rules/species: ", "one of "),
)
"""Sentences of the import that name an option of the command line, and what they say on a page."""


def in_page_words(text: str) -> str:
    """Return what an import says, in words that fit a page.

    >>> in_page_words("a column on, or --column THEIRS=on")
    'a column on'
    """
    for of_command, of_page in ON_A_PAGE:
        text = re.sub(of_command, of_page, text)
    return text


def asked(garden: Garden, outcome: Imported, given: Mapping[str, str]) -> list[Input]:
    """Return the questions that the files leave open, and those that were answered already."""
    said = [*outcome.notes, *(f"{fault.wanted} {fault.field}" for fault in outcome.faults)]

    def open_(option: str, name: str, also: str = "\0") -> bool:
        return bool(given.get(name)) or any(option in text or also in text for text in said)

    found = []
    if open_("--station", "station"):
        names = sorted({source for kind in WEATHER for _, source in garden.columns_in_use(kind, "source") if source})
        hint = f"Recorded so far: {', '.join(names)}; or a new name" if names else "any name by which you know it"
        found.append(Input("station", "Station", "text", given.get("station", ""), hint=hint))
    if open_("--temperature-unit", "unit"):
        choices = (("", "as the file shows"), ("c", "°C"), ("f", "°F"))
        found.append(Input("unit", "Unit of the temperatures", "choice", given.get("unit", ""), choices=choices))
    if open_("--clock", "clock"):
        choices = (
            ("", "as the file shows"), ("local", "it changes to summer time"), ("winter", "winter time all year"),
        )  # fmt: skip
        found.append(Input("clock", "Clock of the logger", "choice", given.get("clock", ""), choices=choices))
    if open_("--date-order", "order", "day and month cannot be told apart"):
        choices = (
            ("", "as the garden has it"),
            ("day-first", "day first, 24/4/2026"),
            ("month-first", "month first, 4/24/2026"),
        )
        found.append(Input("order", "Order of day and month", "choice", given.get("order", ""), choices=choices))
    return found


def kind_inputs(names: Sequence[str], garden: Garden, outcome: Imported, given: Mapping[str, str]) -> list[Input]:
    """Return a question for each file that says nowhere what it holds."""
    recorded = [name for name, kind in garden.kinds.items() if kind.origin == "recorded"]
    unknown = {fault.file for fault in outcome.faults if fault.field == "file name"}
    found = []
    for at, name in enumerate(names):
        told = given.get(f"kind-{at}", "")
        if PurePosixPath(name).stem in recorded or (name not in unknown and not told):
            continue
        choices = (("", "choose"), *((kind, kind_called(kind)) for kind in recorded))
        fault = "" if told else "neither its name nor a column says it"
        found.append(Input(f"kind-{at}", f"What {name} holds", "choice", told, fault=fault, choices=choices))
    return found
