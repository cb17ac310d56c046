"""What holds for a whole sentence: its time, and that its readings are of the soil."""

from __future__ import annotations

from collections.abc import Sequence

from advisor.language.said.pieces import Piece
from advisor.language.said.unit import LENGTH_UNITS, Ears, Unit
from advisor.language.when import Said


def shared_times(piece: Piece, units: Sequence[Unit], ears: Ears) -> list[Said]:
    """Return the times that hold for the whole sentence: one that begins it, or that ends it."""
    times = [time for unit in units for time in unit.times]
    days = {time.day for time in times}
    if len(days) != 1:
        return []
    first, last = piece.start + 3, piece.end
    times = [time for time in times if not time.to_come or time.part in ("night", "evening")]

    def ends(time: Said) -> bool:
        after = piece.text[time.end - piece.start :]
        for sky in ears.talk.sections["sky"].values():
            after = sky.sub(" ", after)
        return not after.strip(" ,.")

    return [t for t in times if t.start < first or ends(t) or t.end >= last]


def speak_of_soil(units: Sequence[Unit], ears: Ears) -> bool:
    """Return whether a row of readings is of the soil: one of them tells a depth, and none is of the air."""
    readings = [unit for unit in units if "temperature" in unit.events]
    deep = any(q.unit in LENGTH_UNITS for unit in readings for q in unit.quantities)
    return deep and not any(ears.talk.has("ground", "air", unit.text) for unit in readings)
