"""Shoots as they were last looked at, whether the season still leaves time to stop them, and pairs fit for a trial."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, timedelta

from advisor.calc.ripening import last_pinch_day
from advisor.facts import Fact
from advisor.reasoning.derive.each import each_plant
from advisor.reasoning.derive.fig_season import ROOF_DAYS, days_to_ripe, roof_of
from advisor.reasoning.derive.freezes import first_autumn_freeze
from advisor.reasoning.derive.limbs import pinched_days, this_year
from advisor.reasoning.derive.scene import Scene, derivation, derived

FEWEST_RANKED = 3
"""Of fewer shoots the last by thickness need not be a weak one (house judgement)."""
PACE_DAYS = (5, 21)
"""Two looks this far apart tell how a shoot runs: not so near that reading it counts, nor so far that it slowed
(house judgement)."""
ALIKE_SHARE = 0.8
"""The shorter of two like shoots has at least this of the longer one's length (house judgement)."""
SHOOT = "shoot_cm"


@dataclass(frozen=True)
class Looked:
    """A shoot's last look of this year, what it is called, its rank if it was told, and the look before it."""

    name: str
    row: Fact
    rank: int | None
    before: Fact | None


def _looked(scene: Scene, plant: str) -> list[Looked]:
    """Return the shoots of a plant that count today.

    Shoots are told apart by their rank of thickness; looks without a rank that fall on one day are of several shoots,
    and only the last day's count. One shoot alone on each of two days is taken for the same.
    """
    rows = this_year(scene, "growth", plant)
    ranked: dict[int, list[Fact]] = {}
    for row in rows:
        rank = row.number("thickness_rank")
        if rank is not None and not _side(row):
            ranked.setdefault(int(rank), []).append(row)
    found = [
        Looked(f"shoot no. {rank} by thickness", looks[-1], rank, looks[-2] if len(looks) > 1 else None)
        for rank, looks in sorted(ranked.items())
    ]
    for side in (False, True):
        plain = [row for row in rows if _side(row) == side and (side or row.number("thickness_rank") is None)]
        days = sorted({day for row in plain if (day := row.day("on"))})
        last = [row for row in plain if row.day("on") == days[-1]] if days else []
        earlier = [row for row in plain if row.day("on") == days[-2]] if len(days) > 1 else []
        before = earlier[0] if len(last) == len(earlier) == 1 and not side else None
        what = "side shoot" if side else "shoot"
        last.sort(key=lambda row: (row.number(SHOOT) or 0.0, row.number("leaves") or 0), reverse=True)
        names = (
            [f"{what} no. {n} by length" for n in range(1, len(last) + 1)] if len(last) > 1 else [f"the {what} seen"]
        )
        found += [Looked(name, row, None, before) for name, row in zip(names, last, strict=False)]
    return found


@each_plant
def shoot_now(scene: Scene, plant: str) -> Iterable[Fact]:
    """Derive each shoot's last look of this growing year, for the plant asked about or for each."""
    looked = _looked(scene, plant)
    ranks = [shoot.rank for shoot in looked if shoot.rank is not None]
    pinched = pinched_days(scene, plant)
    for shoot in looked:
        row = shoot.row
        on = row.day("on") or scene.today
        since = [work for day, work in pinched if day >= on]
        earlier = [work for day, work in pinched if day < on]
        week_cm = _week_cm(shoot, [day for day, _ in pinched])
        yield derived(
            "shoot_now",
            "shoot_now",
            (row, *since, *earlier[-1:], *((shoot.before,) if shoot.before and week_cm is not None else ())),
            plant=plant,
            shoot=shoot.name,
            on=on,
            age_days=(scene.today - on).days,
            leaves=_whole(row, "leaves"),
            node_buds=_whole(row, "node_buds"),
            shoot_cm=row.number(SHOOT),
            week_cm=week_cm,
            last_by_thickness=len(ranks) >= FEWEST_RANKED and shoot.rank == max(ranks),
            side_shoot=_side(row),
            pinched=bool(since),
            pinched_before=bool(earlier),
        )


def _side(row: Fact) -> bool:
    return row.get("side_shoot") is True


def _week_cm(shoot: Looked, pinched: list[date]) -> float | None:
    """Return what a shoot grew in a week between its last two looks, None where they do not tell it."""
    if shoot.before is None:
        return None
    first, last = shoot.before.day("on"), shoot.row.day("on")
    was, now = shoot.before.number(SHOOT), shoot.row.number(SHOOT)
    if first is None or last is None or was is None or now is None or now < was:
        return None
    apart = (last - first).days
    if not PACE_DAYS[0] <= apart <= PACE_DAYS[1] or any(first <= day <= last for day in pinched):
        return None
    return round((now - was) / apart * 7, 1)


def _whole(row: Fact, name: str) -> int | None:
    value = row.number(name)
    return None if value is None else int(value)


@each_plant
def pinch_window(scene: Scene, name: str) -> Iterable[Fact]:
    """Derive whether fruit of a shoot pinched today would ripen in time; nothing where ripening or frost is open.

    A plant under glass, or a pot that a roof is recorded for, has longer; both ends are told.
    """
    freeze = first_autumn_freeze(scene)
    if freeze is None:
        return
    plant = scene.plants[name]
    told = days_to_ripe(scene, plant)
    last = last_pinch_day(freeze, told[0]) if told else None
    if told is None or last is None:
        return
    state = "open" if scene.today <= last.safe else "doubtful" if scene.today <= last.latest else "closed"
    roof = roof_of(scene, plant)
    roofed = last.latest + timedelta(days=ROOF_DAYS[roof[0]]) if roof else None
    yield derived(
        "pinch_window",
        "pinch_window",
        (plant, *told[1], *((roof[1],) if roof else ())),
        plant=name,
        state=state,
        safe=last.safe,
        latest=last.latest,
        freeze=freeze,
        rests_on="own years" if told[1] else "published days",
        roof=roof[1].text("name") if roof else None,
        roof_latest=roofed,
        roof_state="no roof" if roofed is None else "open" if scene.today <= roofed else "closed",
    )


@derivation
def shoot_pairs(scene: Scene) -> Iterable[Fact]:
    """Derive how many pairs of like fig shoots stand ready to be pinched, both of a pair on one plant."""
    lengths: dict[str, list[float]] = {}
    rows: list[Fact] = []
    for shoot in scene.derived("shoot_now"):
        plant = shoot.text("plant")
        length = shoot.number("shoot_cm")
        if length is not None and scene.plants[plant].text("species") == "fig" and _is_ready(shoot):
            lengths.setdefault(plant, []).append(length)
            rows.append(shoot)
    pairs = {plant: _pairs(sizes) for plant, sizes in lengths.items()}
    if not sum(pairs.values()):
        return
    told = scene.told_by_today("trial")
    texts = [f"{row.text('name')} {row.text('question')} {row.text('differs')}" for row in told
             if (row.day("from_day") or scene.today) >= scene.year_start]  # fmt: skip
    yield derived(
        "shoot_pairs",
        "shoot_pairs",
        (scene.place, *rows),
        place=scene.place.text("name"),
        pairs=sum(pairs.values()),
        trees=sum(1 for count in pairs.values() if count),
        trial_on=any("pinch" in text.casefold() for text in texts),
    )


def _is_ready(shoot: Fact) -> bool:
    fresh = (shoot.number("age_days") or 0) <= 7 and not shoot.get("pinched") and not shoot.get("side_shoot")
    ready = (shoot.number("leaves") or 0) >= 6 and (shoot.number("node_buds") or 0) >= 2
    return fresh and ready and (shoot.number("shoot_cm") or 0.0) >= 15


def _pairs(lengths: list[float]) -> int:
    left = sorted(lengths)
    count = 0
    while len(left) > 1:
        short = left.pop(0)
        if short >= ALIKE_SHARE * left[0]:
            left.pop(0)
            count += 1
    return count
