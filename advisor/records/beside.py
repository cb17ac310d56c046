"""What a row needs beside it: one place, a trial that was set up, a host that does not hang on it, spots and plants."""

from __future__ import annotations

from collections.abc import Mapping

from advisor.errors import RowFault
from advisor.records.store import Garden, NewRow, Said

Batch = tuple[Said, list[NewRow]]


class Beside:
    """Checks rows against the rest of their garden; ``trials`` are the trials known, names in small letters."""

    def __init__(self, garden: Garden) -> None:
        self.trials = {fact.text("name").casefold() for fact in garden.of("trial")}
        self._place = garden.place().text("name") if garden.of("place") else ""
        self._hosts = {
            fact.text("name").casefold(): fact.text("grafted_on").casefold()
            for fact in garden.of("plant")
            if fact.get("grafted_on")
        }

    def fault(self, file: str, row: NewRow) -> RowFault | None:
        """Return what keeps a row, sound in itself, from standing in this garden."""
        at, values = row.line or 0, row.values
        if row.kind == "place":
            told = str(values["name"])
            self._place = self._place or told
            if told.casefold() != self._place.casefold():
                wanted = f"one place a garden file; this one is at {self._place}"
                return RowFault(file, at, "name", repr(told), wanted)
        elif row.kind == "trial_member":
            trial = str(values["trial"])
            if trial.casefold() not in self.trials:
                return RowFault(file, at, "trial", repr(trial), "a trial that is recorded or in trial.csv")
        elif row.kind == "plant" and "grafted_on" in values:
            plant, host = str(values["name"]), str(values["grafted_on"])
            self._hosts[plant.casefold()] = host.casefold()
            if self._hangs_on_itself(plant.casefold()):
                return RowFault(file, at, "grafted_on", repr(host), f"a plant that does not itself hang on {plant}")
        return None

    def _hangs_on_itself(self, plant: str) -> bool:
        seen, at = {plant}, self._hosts.get(plant)
        while at is not None:
            if at in seen:
                return True
            seen.add(at)
            at = self._hosts.get(at)
        return False


def anchored(garden: Garden, batches: list[Batch], faults: list[RowFault]) -> list[Batch]:
    """Return the batches without rows that refer to a spot or plant whose own row was left out; add their faults."""
    there = {kind: set(garden.names(kind)) for kind in ("spot", "plant")}
    while True:
        names = {kind: set(found) for kind, found in there.items()}
        for _, rows in batches:
            for row in rows:
                if row.kind in names:
                    names[row.kind].add(str(row.values["name"]))
        kept = [(said, [row for row in rows if _stands(garden, said, row, names, faults)]) for said, rows in batches]
        if [len(rows) for _, rows in kept] == [len(rows) for _, rows in batches]:
            return kept
        batches = kept


def _stands(
    garden: Garden, said: Said, row: NewRow, names: Mapping[str, set[str]], faults: list[RowFault]
) -> bool:  # fmt: skip
    for name, spec in garden.kinds[row.kind].fields.items():
        value = row.values.get(name)
        if spec.type in names and value is not None and value not in names[spec.type]:
            faults.append(RowFault(said.ref, row.line or 0, name, repr(value), f"a {spec.type} whose own row is sound"))
            return False
    return True
