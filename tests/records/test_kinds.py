"""The vocabulary's files: what a kind must say, and what is refused."""

from __future__ import annotations

import shutil
from datetime import UTC, datetime
from pathlib import Path

import pytest

from advisor.conversation import Adviser
from advisor.errors import BadRules
from advisor.records.kinds import load_kinds, unit_of
from advisor.records.store import Garden, NewRow, Said

GOOD = """
kind = "note"
says = "A note."
origin = "recorded"
[fields]
what = { type = "text", required = true }
[example]
what = "hello"
"""


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ('kind = "note"', 'kind = "notes"', "Give both the same name"),
        ('origin = "recorded"', 'origin = "guessed"', "origin 'guessed'"),
        ('type = "text"', 'type = "prose"', "type 'prose'"),
        ('type = "text"', 'type = "word"', "a word without one_of"),
        ("what = {", "what_c = {", "ends in a unit but is no number"),
        ('says = "A note."', "", "no key 'says'"),
        ("[example]\n", "[sample]\n", "a recorded kind without an example"),
        ('says = "A note."', 'says = "A note."\nabout = ["who"]', "'who' is named but is no field"),
        ('origin = "recorded"', 'origin = "derived"', "derived_by is missing"),
        ("[fields]", "[fields", "Mend the file"),
    ],
)
def test_a_kind_that_does_not_hold_together_is_refused(tmp_path: Path, old: str, new: str, said: str) -> None:
    """Each fault names the file, what was found and what to do."""
    (tmp_path / "kinds").mkdir()
    (tmp_path / "kinds" / "note.toml").write_text(GOOD.replace(old, new))
    with pytest.raises(BadRules, match=said):
        load_kinds(tmp_path)


@pytest.mark.parametrize(("more", "sound"), [("", False), ('method = "a sum"\ntrust = "good to a tenth"\n', True)])
def test_a_derived_figure_says_how_it_was_reckoned(tmp_path: Path, more: str, sound: bool) -> None:
    """A derived kind with a temperature or the like in it needs its method and its trust."""
    (tmp_path / "kinds").mkdir()
    head = 'kind = "low"\nsays = "The lowest."\norigin = "derived"\nderived_by = "low"\n'
    (tmp_path / "kinds" / "low.toml").write_text(head + more + '[fields]\nmin_c = { type = "number" }\n')
    if sound:
        assert load_kinds(tmp_path)["low"].trust == "good to a tenth"
    else:
        with pytest.raises(BadRules, match="figures without method or trust: min_c"):
            load_kinds(tmp_path)


def test_the_good_kind_is_taken(tmp_path: Path) -> None:
    """The text that the faults above are made from is sound itself."""
    (tmp_path / "kinds").mkdir()
    (tmp_path / "kinds" / "note.toml").write_text(GOOD)
    assert load_kinds(tmp_path)["note"].fields["what"].required


def test_number_fields_that_measure_carry_their_unit(adviser: Adviser) -> None:
    """Every number of the vocabulary that is no count, code or share of an order has a unit in its name."""
    bare = {
        f"{kind.name}.{field.name}"
        for kind in adviser.base.kinds.values()
        for field in kind.fields.values()
        if field.type == "number" and unit_of(field.name) is None
    }
    assert bare == set()


def test_a_new_kind_is_one_file_and_a_new_field_a_column(adviser: Adviser, tmp_path: Path) -> None:
    """A file put into rules/kinds makes its table in a garden that is there already; a field added later a column."""
    rules = tmp_path / "rules"
    shutil.copytree(adviser.settings.rules, rules)
    path = tmp_path / "garden.db"
    now = datetime(2026, 4, 24, 10, tzinfo=UTC)
    with Garden(path, load_kinds(rules), create=True) as garden:
        garden.add([(Said("file", "a", now), [NewRow("spot", {"name": "bed"})])])
    note = rules / "kinds" / "note.toml"
    note.write_text(GOOD)
    for more, values in (
        ("", {"what": "hello"}),
        ('\nsize_cm = { type = "number" }', {"what": "again", "size_cm": 4.0}),
    ):
        note.write_text(GOOD.replace("required = true }", f"required = true }}{more}"))
        with Garden(path, load_kinds(rules)) as garden:
            garden.add([(Said("file", "a", now), [NewRow("note", values)])])
    with Garden(path, load_kinds(rules)) as garden:
        assert [dict(fact.values) for fact in garden.of("note")] == [
            {"what": "hello"},
            {"what": "again", "size_cm": 4.0},
        ]
        assert garden.names("spot") == ["bed"]
