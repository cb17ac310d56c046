"""Random gardens for the real rule base, each made from a seed: rows as a grower would tell them, and the facts of each
question.

The facts come from three places, mixed: what is derived from random rows that the importer let in; what random cases of
the question's own rules are given, their plants and spots given the names of this garden; and facts drawn straight from
the vocabulary, with figures at and beside the thresholds that rules ask for.
"""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping
from dataclasses import replace
from datetime import UTC, date, datetime, time, timedelta
from pathlib import Path
from random import Random
from typing import Any

from engine_programs import given

from advisor.conversation import Adviser
from advisor.facts import Fact
from advisor.language.understand import Understood
from advisor.reasoning.cases import fact_from
from advisor.reasoning.rulebase import RuleBase
from advisor.records.importing import import_path
from advisor.records.kinds import Field, Kind
from advisor.records.questions import SHOWS_RECORDS

SPOTS = ("south wall", "low bed", "lane", "glasshouse", "winter store", "yard", "bank")
PLANTS = ("wall fig", "shed fig", "gate apricot", "pot fig", "old pear", "young apple", "grafted limb", "porch fig")
TEXTS = ("Brown Turkey", "Violette", "morning", "station", "pruned back", "two cuttings")
TRIALS = ("chips or straw", "white paint")
ZONES = ("Europe/Vienna", "America/New_York", "Australia/Hobart", "Europe/Helsinki")
RANGES = {"c": (-15, 38), "cm": (0, 150), "m": (0, 12), "mm": (0, 60), "deg": (0, 90), "litres": (1, 200), "days": (0, 60),
          "share": (0, 1), "h": (0, 24), "m_s": (0, 12), "kg": (0, 30), "k": (-6, 6), "dd": (0, 1500)}  # fmt: skip
Facts = dict[str, list[Fact]]
"""The facts of each question, by its id."""


def random_garden(adviser: Adviser, seed: int, folder: Path) -> Facts:
    """Return the facts of a garden for every question that rules answer. ``folder`` is empty, and is written to."""
    return _Garden(adviser, seed).facts(folder)


def _spoken_of(base: RuleBase) -> Mapping[tuple[str, str], list[Any]]:
    """Return the values that rules ask of a field, and for a threshold those beside it."""
    found: dict[tuple[str, str], list[Any]] = {}
    for rule in base.rules.values():
        for block in (*rule.when, *rule.unless):
            for test in block.tests:
                at = found.setdefault((block.kind, test.field), [])
                if test.operator == "one_of":
                    at += test.operand
                elif test.operator in ("equals", "not"):
                    at.append(test.operand)
                elif test.operator != "same_as":
                    at += [test.operand, test.operand - 1, test.operand + 1]
    return found


class _Garden:
    def __init__(self, adviser: Adviser, seed: int) -> None:
        self.adviser, self.chance = adviser, Random(seed)
        self.asked = _spoken_of(adviser.base)
        chance = self.chance
        self.today = date(2026, 1, 1) + timedelta(days=chance.randrange(365))
        self.now = datetime.combine(self.today, time(16), UTC)
        self.spots = chance.sample(SPOTS, k=chance.randint(2, len(SPOTS)))
        self.plants = chance.sample(PLANTS, k=chance.randint(1, len(PLANTS)))
        self.species = chance.sample(sorted(adviser.lore.species), k=chance.randint(1, 5))

    def facts(self, folder: Path) -> Facts:
        chance, found = self.chance, {}
        told = self._told(folder) if chance.random() < 0.5 else {}
        for name in self.adviser.questions:
            if name != SHOWS_RECORDS:
                base = self.adviser.engine_of(name)[1].base
                facts = [*told.get(name, ()), *self._of_cases(base), *self._of_vocabulary(name, base)]
                found[name] = chance.sample(facts, k=len(facts))
        return found

    # ---- rows told

    def _told(self, folder: Path) -> Facts:
        """Return what is derived from random rows: those of them that the importer lets in."""
        files = folder / "files"
        files.mkdir()
        lines = [json.dumps(row, default=lambda value: value.isoformat()) for row in self._rows()]
        (files / "rows.jsonl").write_text("\n".join(lines) + "\n", encoding="utf-8")
        with self.adviser.open(folder / "garden.db", create=True) as garden:
            import_path(garden, files, self.adviser.lore, self.now, keep_good=True)
            plants, spots = garden.names("plant"), garden.names("spot")
            scene = self.adviser.scene(garden, self.today)
            found: Facts = {}
            for question in self.adviser.questions.values():
                if question.id == SHOWS_RECORDS:
                    continue
                names_plant = question.must_name == "plant" or "plant" in question.may_name
                plant = self.chance.choice(plants) if plants and names_plant else ""
                species = self.chance.choice(self.species) if question.must_name == "species" else ""
                named = (self.chance.choice(spots),) if question.must_name == "spot" and spots else ()
                meant = Understood(question.id, plant, species, named)
                of_question = replace(scene, question=question.id, plant=plant, species=species)
                facts = list(self.adviser.facts(of_question, meant))
                found[question.id] = self.chance.sample(facts, k=min(len(facts), 60))
        return found

    def _rows(self) -> Iterator[dict[str, Any]]:
        chance = self.chance
        south = chance.random() < 0.2
        yield {"kind": "place", "name": "Test Hill", "latitude_deg": -43.0 if south else 47.0, "longitude_deg": 15.0,
               "elevation_m": chance.choice([5, 400, 900]), "time_zone": chance.choice(ZONES), "units": "metric"}  # fmt: skip
        for kind, names in (("spot", self.spots), ("plant", self.plants)):
            for name in names:
                yield {**self._row(self.adviser.base.kinds[kind]), "name": name}
        length, cold = chance.randint(20, 150), chance.uniform(-8, 8)
        for n in range(length):
            low = round(cold + 9 * n / length + chance.gauss(0, 4), 1)
            yield {"kind": "weather_day", "on": self.today - timedelta(days=length - n), "min_c": low,
                   "max_c": low + chance.randint(2, 18), "rain_mm": chance.choice([0, 0, 12])}  # fmt: skip
        recorded = [kind for kind in self.adviser.base.kinds.values() if kind.origin == "recorded"]
        for kind in recorded:
            if kind.name not in ("place", "spot", "plant", "weather_day", "weather_hour", "advice"):
                for _ in range(chance.choice([0, 1, 2, 4, 8])):
                    yield self._row(kind)

    def _row(self, kind: Kind) -> dict[str, Any]:
        asked = [one for one in kind.fields.values() if one.required or self.chance.random() < 0.6]
        asked += [kind.fields[name] for name in kind.needs_one_of[:1] if kind.fields[name] not in asked]
        row = {field.name: self._value(field) for field in asked if field.name != "kind"}
        if kind.name == "trial":
            row["name"] = self.chance.choice(TRIALS)
        if kind.name == "forecast_day":
            row["for_day"] = row["issued"] + timedelta(days=self.chance.randrange(4))
        if self.chance.random() < 0.7:
            row.pop("grafted_on", None)
        return {"kind": kind.name, **row}

    def _value(self, field: Field) -> Any:
        chance = self.chance
        if field.one_of:
            return chance.choice(field.one_of)
        if field.name in ("material", "trial"):  # texts that must be known
            return chance.choice(sorted(self.adviser.lore.materials) if field.name == "material" else TRIALS)
        match field.type:
            case "yes_no":
                return chance.random() < 0.5
            case "spot":
                return chance.choice(self.spots)
            case "plant":
                return chance.choice(self.plants)
            case "species":
                return chance.choice(self.species)
            case "date":
                return self.today - timedelta(days=chance.choice([-1, 0, 1, 3, 9, 30, 90, 200, 400, 2000]))
            case "time":
                return self.now - timedelta(hours=chance.choice([0, 1, 5, 24, 72, 400, 4000]))
            case "month_day":
                return f"{chance.randint(1, 12):02}-{chance.randint(1, 28):02}"
            case "number" | "whole":
                low, high = RANGES.get(field.unit or "", (0, 99))
                low, high = max(low, field.min or low), min(high, high if field.max is None else field.max)
                value = chance.uniform(low, max(low, high))
                return round(value) if field.type == "whole" else round(value, 1)
        return chance.choice(TEXTS)

    # ---- facts of cases, and of the vocabulary

    def _of_cases(self, base: RuleBase) -> Iterator[Fact]:
        """Yield what some cases of these rules are given, each plant and spot of a case under a name of this garden."""
        chance = self.chance
        rules = list(base.rules.values())
        for rule in chance.sample(rules, k=min(len(rules), chance.randint(1, 14))):
            case = chance.choice(rule.cases)
            called: dict[tuple[str, str], str] = {}
            keeps = chance.random() < 0.3  # its own names, which other cases share
            for raw in case.given:
                fact = fact_from(raw)
                values = dict(fact.values)
                for name, value in fact.values.items():
                    sort = self._sort(base.kinds[fact.kind], name)
                    if sort and isinstance(value, str) and not keeps:
                        pool = self.spots if sort == "spot" else self.plants
                        values[name] = called.setdefault((sort, value), chance.choice(pool))
                yield given(fact.kind, values)

    @staticmethod
    def _sort(kind: Kind, name: str) -> str:
        """Return "spot" or "plant" where a field holds the name of one, else "" ."""
        if kind.name in ("spot", "plant") and name == "name":
            return kind.name
        field = kind.fields.get(name)
        return field.type if field is not None and field.type in ("spot", "plant") else ""

    def _of_vocabulary(self, question: str, base: RuleBase) -> Iterator[Fact]:
        chance = self.chance
        kinds = sorted(self.adviser.engine_of(question)[0].kinds)
        for name in chance.choices(kinds, k=chance.choice([0, 5, 15, 30])):
            kind = base.kinds[name]
            values = {}
            for field in kind.fields.values():
                if chance.random() < 0.8:
                    asked = self.asked.get((name, field.name), []) if chance.random() < 0.7 else []
                    values[field.name] = chance.choice(asked) if asked else self._value(field)
            if kind.name in ("spot", "plant"):
                values["name"] = chance.choice(self.spots if kind.name == "spot" else self.plants)
            yield given(name, values)
