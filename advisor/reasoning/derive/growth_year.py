"""A plant's year beside its care: what it is at, when its roots last had water, how it was fed, when its year ends."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from datetime import date, timedelta

from advisor.calc.calendar import growing_year_start, past_midsummer_days
from advisor.facts import Fact
from advisor.reasoning.derive.freezes import FREEZING_C, one_in_ten
from advisor.reasoning.derive.plants import stand_of
from advisor.reasoning.derive.scene import Scene, derivation, derived
from advisor.reasoning.derive.stages import REST
from advisor.reasoning.derive.tonight import told_low
from advisor.reasoning.derive.weather import as_one, weather_of

LINGERS_DAYS = 61
"""A growing year starts in late autumn, when the last one's fruit may still hang; for so long it is still its turn."""
SOAKING_MM = 5.0
"""Rain of one day that reaches the roots; less wets leaf and litter (house judgement)."""
MOST_DRY_DAYS = 120
FELT_DAYS = 7
"""How long a feel of the root ball speaks for today (house judgement)."""
AUTUMN_DAYS = 40
"""Days past midsummer from which a frost or falling leaves end a plant's year (house judgement)."""
KILLING_C = -2.0
"""The station's low at which leaves of fig and persimmon are taken to die (house judgement)."""
LEAF_FALL = 93
"""BBCH code from which leaves fall (Meier (ed.), BBCH Monograph, 2nd ed., 2001)."""
ROOFS = ("shelter", "unheated glass", "heated glass")


def turn_of(scene: Scene) -> tuple[date, date]:
    """Return the first day and the midsummer of the growing year whose fruit may still hang today."""
    then = scene.today - timedelta(days=LINGERS_DAYS)
    midsummer = then - timedelta(days=past_midsummer_days(then, scene.latitude_deg))
    return growing_year_start(scene.year_of(then), scene.latitude_deg), midsummer


def _since(scene: Scene, kind: str, start: date) -> list[Fact]:
    """Return the focus plant's rows of a dated kind from a day on, oldest first."""
    return scene.of_plant_since(kind, scene.plant, start)


# ---- what it is at


def phase_of(bbch: int) -> str:
    """Return what a plant is at by its BBCH code (Meier (ed.), BBCH Monograph, 2nd ed., 2001; the cuts are ours).

    >>> phase_of(1), phase_of(53), phase_of(15), phase_of(73)
    ('swelling', 'waking', 'leaf', 'fruit')
    """
    if bbch in (0, 50):
        return "asleep"
    if bbch < 7 or bbch in (51, 52):
        return "swelling"
    if bbch < 11 or 53 <= bbch < 60:
        return "waking"
    if bbch < 50:
        return "leaf"
    for below, phase in ((69, "flower"), (80, "fruit"), (REST, "ripening")):
        if bbch < below:
            return phase
    return "leaf fall"


@derivation
def growth_phase(scene: Scene) -> Iterable[Fact]:
    """Derive what the plant asked about is at, by its last stage; one that fruit was picked from is ripening."""
    if scene.focus is None:
        return
    start, _ = turn_of(scene)
    seen = [
        (row.day("on") or start, row, phase_of(int(row.number("bbch") or 0))) for row in _since(scene, "stage", start)
    ]
    seen += [(row.day("on") or start, row, "ripening") for row in _since(scene, "crop", start)]
    if not seen:
        return
    on, row, phase = max(seen, key=lambda entry: entry[0])
    yield derived(
        "growth_phase",
        "growth_phase",
        (row,),
        plant=scene.plant,
        phase=phase,
        on=on,
        age_days=(scene.today - on).days,
    )


# ---- water


@dataclass(frozen=True)
class Dry:
    """A run of days without a soaking: its first day, what ended the time before it ("" if not told), and why."""

    since: date
    last: str
    facts: tuple[Fact, ...]


def _dry_run(
    end: date, soaked: Mapping[date, tuple[str, Fact]], rain: Callable[[date], Fact | None] | None
) -> Dry | None:
    """Return the run that ends on a day, as far back as the records tell; None where they tell nothing of it.

    Without ``rain`` the plant stands under a roof, and only what is in ``soaked`` reaches it. A day or two at the end
    whose weather is not in yet are passed over; any other day without a word on rain ends what is known.
    """
    told: list[Fact] = []
    for n in range(MOST_DRY_DAYS):
        day = end - timedelta(days=n)
        if day in soaked:
            word, row = soaked[day]
            return Dry(day, word, (row, *as_one(told[::-1])))
        if rain is None:
            continue
        weather = rain(day)
        fell = weather.number("rain_mm") if weather else None
        if weather is None or fell is None:
            if n > 1 or told:
                break
            continue
        told.append(weather)
        if fell >= SOAKING_MM:
            return Dry(day, "rain", tuple(as_one(told[::-1])))
    first = told[-1].day("on") if told else None
    return Dry(first, "", tuple(as_one(told[::-1]))) if first else None


def _before(
    run: Dry, soaked: Mapping[date, tuple[str, Fact]], rain: Callable[[date], Fact | None] | None
) -> tuple[date | None, Dry | None]:
    """Return the first day of the soaking that a run began with, and the dry run that this soaking broke."""
    first, last = run.since, run.last
    while last in ("rain", "watered"):
        before = _dry_run(first - timedelta(days=1), soaked, rain)
        if before is None or (first - before.since).days > 1 or not before.last:
            return (first, before) if before else (None, None)
        first, last = before.since, before.last
    return None, None


@derivation
def water_now(scene: Scene) -> Iterable[Fact]:
    """Derive how long the roots of the plant asked about have had no water, and how they felt.

    Nothing is taken for dry that the records leave open: rain must be recorded for a plant outdoors, and of a pot or
    under a roof, where somebody waters, waterings must be noted as well.
    """
    if scene.focus is None:
        return
    start, _ = turn_of(scene)
    stand = stand_of(scene, scene.focus, scene.today)
    roofed = stand.under_cover in ROOFS
    works = [
        *scene.of_plant("work", scene.plant),
        *(w for w in scene.of_plant("work", "") if w.text("spot") == stand.spot),
    ]
    watered = {day: w for w in works if w.text("what") == "watered" and (day := w.day("on")) and day >= start}
    felt = [row for row in _since(scene, "inspection", start) if row.text("root_ball")]
    soaked = {day: ("found moist", row) for row in felt if row.text("root_ball") != "dry" and (day := row.day("on"))}
    soaked |= {day: ("watered", row) for day, row in watered.items()}
    days = weather_of(scene).days
    rain = None if roofed else days.get
    told = bool(watered) or (stand.growing == "ground" and not roofed)
    run = _dry_run(scene.today, soaked, rain) if told and stand.under_cover else None
    broken, before = _before(run, soaked, rain) if run else (None, None)
    last_felt = _still_felt(scene, felt, run)
    if run is None and last_felt is None:
        return
    low = None if roofed else told_low(scene)
    rows = [*((last_felt,) if last_felt else ()), *(run.facts if run else ()), *((low,) if low else ())]
    yield derived(
        "water_now",
        "water_now",
        dict.fromkeys([scene.focus, *rows]),
        plant=scene.plant,
        dry_days=(scene.today - run.since).days if run else None,
        since=run.since if run else None,
        last=(run.last or None) if run else None,
        before_days=(broken - before.since).days if broken and before else None,
        broken_days=(scene.today - broken).days if broken and before else None,
        felt=last_felt.text("root_ball") if last_felt else None,
        felt_on=last_felt.day("on") if last_felt else None,
        felt_age_days=(scene.today - (last_felt.day("on") or scene.today)).days if last_felt else None,
        frost_near=low is not None and (low.number("min_c") or 0.0) <= FREEZING_C,
    )


def _still_felt(scene: Scene, felt: list[Fact], run: Dry | None) -> Fact | None:
    """Return the last feel of the roots that still speaks for today: young, and not dry before water came."""
    if not felt or (scene.today - (felt[-1].day("on") or scene.today)).days > FELT_DAYS:
        return None
    on = felt[-1].day("on") or scene.today
    soaked_since = run is not None and run.last in ("rain", "watered") and run.since >= on
    return None if felt[-1].text("root_ball") == "dry" and soaked_since else felt[-1]


# ---- the end of the year, and what hangs on the tree till then


@derivation
def season_end(scene: Scene) -> Iterable[Fact]:
    """Derive what ended the year of the plant asked about: a frost that kills leaves, or their fall."""
    if scene.focus is None:
        return
    start, midsummer = turn_of(scene)
    autumn = midsummer + timedelta(days=AUTUMN_DAYS)
    ends = [
        (row.day("on") or scene.today, "leaf fall", row)
        for row in _since(scene, "stage", autumn)
        if (row.number("bbch") or 0) >= LEAF_FALL
    ]
    if stand_of(scene, scene.focus, scene.today).under_cover == "none":
        nights = weather_of(scene).span(autumn, scene.today)
        ends += [
            (row.day("on") or scene.today, "frost", row) for row in nights if (row.number("min_c") or 0.0) <= KILLING_C
        ]
    if not ends:
        return
    on, what, row = min(ends, key=lambda entry: entry[:2])
    picked = [crop for crop in _since(scene, "crop", start) if (crop.day("on") or start) >= on]
    yield derived(
        "season_end",
        "season_end",
        (scene.focus, row, *picked),
        plant=scene.plant,
        ended_by=what,
        on=on,
        age_days=(scene.today - on).days,
        picked=bool(picked),
    )


@derivation
def autumn_frost(scene: Scene) -> Iterable[Fact]:
    """Derive how far off the day is by which autumn's first freeze comes in one year of ten."""
    odds = one_in_ten(scene, "autumn", FREEZING_C)
    if odds is not None:
        yield derived(
            "autumn_frost",
            "autumn_frost",
            odds.rows,
            place=scene.place.text("name"),
            one_in_ten=odds.day,
            ahead_days=odds.ahead_days(scene),
            years=odds.years,
        )


@derivation
def fruit_load(scene: Scene) -> Iterable[Fact]:
    """Derive how long the asked plant's bloom is past this year, and whether frost has thinned its fruit already."""
    if scene.focus is None:
        return
    stages = _since(scene, "stage", scene.year_start)
    bloom = [row for row in stages if 60 <= (row.number("bbch") or 0) < 70]
    full = [row for row in bloom if (row.number("bbch") or 0) >= 65] or bloom
    if not full:
        return
    on = full[0].day("on") or scene.today
    harm = [row for row in _since(scene, "harm", scene.year_start) if row.text("cause") == "frost" and is_much(row)]
    cut = [row for row in _since(scene, "inspection", scene.year_start) if _half_dead(row)]
    yield derived(
        "fruit_load",
        "fruit_load",
        (full[0], *harm, *cut),
        plant=scene.plant,
        bloom_on=on,
        since_bloom_days=(scene.today - on).days,
        frosted=bool(harm or cut),
    )


def is_much(harm: Fact) -> bool:
    return harm.text("extent") in ("half", "most", "killed")


def _half_dead(look: Fact) -> bool:
    cut, dead = (look.number(name) or 0 for name in ("buds_cut", "buds_dead"))
    return cut > 0 and 2 * dead >= cut
