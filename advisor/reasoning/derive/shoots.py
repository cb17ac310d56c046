"""Shoots as they were last looked at, and whether the season still leaves time to stop them."""

from __future__ import annotations

from collections.abc import Iterable

from advisor.calc.ripening import DaysToRipe, last_pinch_day
from advisor.facts import Fact
from advisor.reasoning.derive.freezes import first_autumn_freeze
from advisor.reasoning.derive.scene import Scene, derivation, derived

FEWEST_RANKED = 3
"""Of fewer shoots the last by thickness need not be a weak one (house judgement)."""


@derivation
def shoot_now(scene: Scene) -> Iterable[Fact]:
    """Derive each shoot's last look of this growing year, for the plant asked about or for each.

    Shoots are told apart by their rank of thickness; looks without a rank that fall on one day are of several shoots,
    and only the last day's count.
    """
    for plant in [scene.plant] if scene.focus else list(scene.plants):
        rows = [row for row in scene.of_plant("growth", plant) if _this_year(scene, row)]
        ranked = {int(rank): row for row in rows if (rank := row.number("thickness_rank")) is not None}
        plain = [row for row in rows if row.number("thickness_rank") is None]
        last_day = max((row.day("on") or scene.today for row in plain), default=None)
        looked = [(f"no. {rank} by thickness", row) for rank, row in sorted(ranked.items())]
        looked += [(_unranked(row), row) for row in plain if row.day("on") == last_day]
        thinnest = max(ranked, default=0)
        pinched = [row for row in scene.of_plant("work", plant) if row.text("what") == "pinched"]
        for name, row in looked:
            on = row.day("on") or scene.today
            rank = row.number("thickness_rank")
            told = len(ranked) >= FEWEST_RANKED and rank is not None
            since = [work for work in pinched if (day := work.day("on")) and day >= on]
            yield derived(
                "shoot_now",
                "shoot_now",
                (row, *since),
                plant=plant,
                shoot=name,
                on=on,
                age_days=(scene.today - on).days,
                leaves=_whole(row, "leaves"),
                node_buds=_whole(row, "node_buds"),
                shoot_cm=row.number("shoot_cm"),
                last_by_thickness=told and rank == thinnest,
                pinched=bool(since),
            )


def _unranked(row: Fact) -> str:
    """Return how a shoot without a rank is told from others of the same day."""
    parts = [f"{row.number(name):g} {label}" for name, label in (("shoot_cm", "cm"), ("leaves", "leaves"))
             if row.number(name) is not None]  # fmt: skip
    return ", ".join(parts) or "not measured"


def _whole(row: Fact, name: str) -> int | None:
    value = row.number(name)
    return None if value is None else int(value)


def _this_year(scene: Scene, row: Fact) -> bool:
    day = row.day("on")
    return day is not None and scene.year_of(day) == scene.year


@derivation
def pinch_window(scene: Scene) -> Iterable[Fact]:
    """Derive whether fruit of a shoot pinched today would ripen in time; nothing where ripening or frost is open."""
    freeze = first_autumn_freeze(scene)
    if freeze is None:
        return
    for name in [scene.plant] if scene.focus else list(scene.plants):
        plant = scene.plants[name]
        told = scene.lore.needs.days_to_ripe(plant.text("species"), "main")
        if told is None:
            continue
        last = last_pinch_day(freeze, DaysToRipe("main", told.days_low, told.days_high, told.told_source))
        if last is None:
            continue
        state = "open" if scene.today <= last.safe else "doubtful" if scene.today <= last.latest else "closed"
        yield derived(
            "pinch_window",
            "pinch_window",
            (plant,),
            plant=name,
            state=state,
            safe=last.safe,
            latest=last.latest,
            freeze=freeze,
        )
