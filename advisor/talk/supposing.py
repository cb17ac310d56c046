"""What if: the same records with one thing otherwise, put through the same rules, and what the answer then is."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date

from advisor.answers import Answer, Conclusion
from advisor.facts import Fact, Recorded, Value
from advisor.language.said.events import material_of
from advisor.language.said.subjects import find_subjects
from advisor.language.said.yard import Yard
from advisor.reasoning.derive.scene import Records
from advisor.records.talk_words import TalkWords

USUAL_MULCH = "wood chips"
"""What "mulch" is taken to be where nothing lies yet."""
SUPPOSED = 0
"""Row number of a record that is only supposed."""


@dataclass(frozen=True)
class Supposition:
    """One thing otherwise: rows to leave out, rows to add, and how it is said.

    ``species`` and ``sort`` are another kind, or a sort of it, that a place is sought for. ``from_now`` marks what is
    to come, so that what was dated before was dated in the garden as it was; ``notes`` are said with the answer.
    ``built_at`` is the spot whose warmth is judged anew.
    """

    says: str
    without: frozenset[tuple[str, int]] = frozenset()
    rows: tuple[Fact, ...] = ()
    species: str = ""
    sort: str = ""
    from_now: bool = False
    notes: tuple[str, ...] = ()
    built_at: str = ""


@dataclass
class Supposed:
    """Records with a supposition made; read as a garden is."""

    records: Records
    supposition: Supposition
    _facts: dict[str, list[Fact]] = field(default_factory=dict)

    def of(self, kind: str) -> list[Fact]:
        """Return a kind's rows as they would be."""
        if kind not in self._facts:
            out = self.supposition.without
            rows = [fact for fact in self.records.of(kind) if not _is_out(fact, out)]
            self._facts[kind] = [*rows, *(fact for fact in self.supposition.rows if fact.kind == kind)]
        return self._facts[kind]

    def who_said(self, kind: str) -> Mapping[int, str]:
        return self.records.who_said(kind)


def _is_out(fact: Fact, out: frozenset[tuple[str, int]]) -> bool:
    return isinstance(fact.origin, Recorded) and any((fact.kind, row) in out for row in fact.origin.row_ids)


def suppose(
    text: str, records: Records, yard: Yard, talk: TalkWords, plant: str, today: date
) -> Supposition | str:  # fmt: skip
    """Return what a "what if" supposes, or a sentence on why it cannot be tried.

    A cover taken off or put on, a plant in a pot or in the ground, a plant at another spot.
    """
    subjects = find_subjects(text, yard)
    spots = [one.names[0] for one in subjects.spots if one.sure]
    plants = [one.names[0] for one in subjects.plants if one.sure and len(one.names) == 1]
    subject = plants[0] if plants else plant
    own = yard.plant(subject)
    spot = spots[0] if spots else (own.spot if own else "")
    material = material_of(text, yard)
    if material and (spot or own):
        return covered(text, records, yard, talk, spot, material, today)
    if own is not None and re.search(r"\b(?:pot|tub|container)\b", text, re.IGNORECASE):
        return _regrown(records, subject, "pot", f"{subject} in a pot")
    if own is not None and re.search(r"\bin the (?:ground|open ground|soil)\b", text, re.IGNORECASE):
        return _regrown(records, subject, "ground", f"{subject} in the ground")
    if own is not None and spots and spots[0] != own.spot:
        return _moved(records, subject, spots[0], today)
    return "I can try: a cover off or on, a plant in a pot or in the ground, a plant at another spot."


def covered(
    text: str, records: Records, yard: Yard, talk: TalkWords, spot: str, material: str, today: date
) -> Supposition | str:  # fmt: skip
    """Return a cover put on or taken off at a spot, or why that cannot be tried."""
    lying = yard.spot(spot)
    if lying is None:
        return "Which spot is that about?"
    out = frozenset({("cover", lying.cover_row)} if lying.cover_row else ())
    if talk.has("cover", "off", text):
        if not lying.material:
            return f"Nothing lies on the soil at the {spot}, as I have it."
        new: dict[str, Value] = {"spot": spot, "material": "bare", "put_on": today}
        says = f"the {lying.material} off the {spot}"
    else:
        new = {
            "spot": spot,
            "material": (lying.material or USUAL_MULCH) if material == "mulch" else material,
            "put_on": today,
        }
        says = f"{new['material']} on the {spot}"
    return Supposition(says, out, (Fact.of("cover", new, Recorded("cover", (SUPPOSED,))),))


def _regrown(records: Records, plant: str, growing: str, says: str) -> Supposition | str:
    row = _row_of(records, plant)
    if row is None:
        return f"I know no plant called {plant!r}."
    values: dict[str, Value] = {**row.values, "growing": growing}
    if growing == "ground":
        values.pop("pot_litres", None)
    return _instead(row, values, says)


def _moved(records: Records, plant: str, spot: str, today: date) -> Supposition | str:
    row = _row_of(records, plant)
    if row is None:
        return f"I know no plant called {plant!r}."
    moves = frozenset(
        ("move", fact.origin.row_ids[0])
        for fact in records.of("move")
        if fact.text("plant") == plant and isinstance(fact.origin, Recorded)
    )
    made = _instead(row, {**row.values, "spot": spot}, f"{plant} at the {spot}")
    return Supposition(made.says, made.without | moves, made.rows)


def _row_of(records: Records, plant: str) -> Fact | None:
    return next((fact for fact in records.of("plant") if fact.text("name") == plant), None)


def _instead(row: Fact, values: Mapping[str, Value], says: str) -> Supposition:
    assert isinstance(row.origin, Recorded)
    out = frozenset({("plant", row.origin.row_ids[0])})
    return Supposition(says, out, (Fact.of("plant", values, Recorded("plant", (SUPPOSED,))),))


def changed(
    before: Answer, after: Answer
) -> tuple[list[Conclusion], list[Conclusion], list[tuple[Conclusion, Conclusion]]]:
    """Return the conclusions that fall away, those that are new, and those whose grade or size is another."""

    def by_claim(answer: Answer) -> dict[tuple[object, ...], Conclusion]:
        return {(one.kind, one.claim, one.side, *sorted(one.about.items())): one for one in answer.conclusions}

    old, new = by_claim(before), by_claim(after)
    gone = [one for key, one in old.items() if key not in new]
    come = [one for key, one in new.items() if key not in old]
    other = [(old[key], new[key]) for key in old if key in new and old[key].grade != new[key].grade]
    return gone, come, other


def in_lines(conclusions: Sequence[Conclusion]) -> list[str]:
    """Return the claims of conclusions in words."""
    return [one.claim.replace("-", " ") for one in conclusions]
