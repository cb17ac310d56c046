"""What the grower did otherwise this year, and whether anything like it was left alone to compare it with."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from datetime import date, timedelta

from advisor.facts import Fact
from advisor.reasoning.derive.scene import Scene, derivation, derived
from advisor.reasoning.derive.trials import SIDES, Trial, trials_of

WORKS = {"pruned": "pruning", "fed": "feeding", "pinched": "pinching", "potted on": "potting on",
         "wrapped": "wrapping", "unwrapped": "unwrapping"}  # fmt: skip
"""Works that somebody may credit with what came after; watering is daily care."""
LATEST = 3
BEFOREHAND_DAYS = 7
"""A trial's treatment may be done some days before the day that its row names (house judgement)."""
Change = tuple[date, str, str, str, Fact]
"""Day, what was done, plant or "", spot or "", the row that says so."""


@derivation
def change_made(scene: Scene) -> Iterable[Fact]:
    """Derive the last change to each plant and spot in this growing year, the newest few of them."""
    last: dict[tuple[str, str], Change] = {}
    for change in sorted(_changes(scene), key=lambda one: (one[0], one[1:4])):
        last[change[2], change[3]] = change
    newest = sorted(last.values(), key=lambda one: (one[0], one[1:4]), reverse=True)
    by_deed: dict[tuple[date, str], list[Change]] = {}
    for change in newest:
        by_deed.setdefault(change[:2], []).append(change)
    for (on, what), group in list(by_deed.items())[:LATEST]:
        _, _, plant, spot, _ = group[-1]
        yield derived(
            "change_made",
            "change_made",
            (*(change[4] for change in reversed(group)), *([scene.plants[plant]] if plant in scene.plants else [])),
            what=what,
            on=on,
            age_days=(scene.today - on).days,
            subject=(plant or spot) + (f" and {len(group) - 1} more" if len(group) > 1 else ""),
            plant=plant or None,
            spot=spot or None,
            count=len(group),
            in_trial=any(_is_in(trial, change) for trial in trials_of(scene) for change in group),
        )


def _changes(scene: Scene) -> Iterator[Change]:
    for row in scene.told_since("work", scene.year_start):
        day = row.day("on")
        if day is not None and row.text("what") in WORKS:
            yield day, WORKS[row.text("what")], row.text("plant"), row.text("spot"), row
    rows = scene.told_by_today("cover")
    first = {spot: next(row for row in rows if row.text("spot") == spot) for spot in {row.text("spot") for row in rows}}
    laid = {(row.text("spot"), row.day("put_on")) for row in rows if row.text("material") != "bare"}
    for row in rows:
        spot, put_on, off = row.text("spot"), row.day("put_on"), row.day("taken_off")
        material = row.text("material")
        if material == "bare":
            continue
        if put_on is not None and put_on >= scene.year_start and row is not first[spot]:
            yield put_on, f"{material} put on", "", spot, row
        if off is not None and scene.year_start <= off <= scene.today and (spot, off) not in laid:
            yield off, f"{material} taken off", "", spot, row


def _is_in(trial: Trial, change: Change) -> bool:
    on, _, plant, spot, _ = change
    first, last = trial.row.day("from_day") or on, trial.row.day("to_day") or on
    members = [one for side in SIDES for one in trial.members[side]]
    named = any((plant and one.text("plant") == plant) or (spot and one.text("spot") == spot) for one in members)
    return named and first - timedelta(days=BEFOREHAND_DAYS) <= on <= last
