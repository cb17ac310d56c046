"""What is published on covers, kept to its own conditions, and what is missing for a fair pair of readings."""

from __future__ import annotations

import tomllib
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path
from statistics import fmean

import pytest
from hypothesis import given
from hypothesis import strategies as st

from advisor.calc.cover_effect import (
    CoverEffect,
    CoverQuestion,
    contrast_trial,
    missing_for_fair,
    not_fitting,
    published_effect,
)
from advisor.calc.soil_pairs import Reading, are_fair, fair_pairs, soil_contrast

RULES = Path(__file__).resolve().parents[2] / "rules"


def load_effects() -> list[CoverEffect]:
    """Read the data file as the program would, lists made tuples."""
    raw = tomllib.loads((RULES / "cover_effects.toml").read_text(encoding="utf-8"))["effect"]
    return [CoverEffect(**{k: tuple(v) if isinstance(v, list) else v for k, v in one.items()}) for one in raw]


EFFECTS = load_effects()
GROUPS = {
    one["id"]: one["group"] for one in tomllib.loads((RULES / "materials.toml").read_text(encoding="utf-8"))["material"]
}


@pytest.mark.parametrize("effect", EFFECTS, ids=lambda e: f"{e.named or e.group}-{e.deepest_cm}-{e.source[:12]}")
def test_every_entry_is_of_a_known_material_and_says_where_it_is_from(effect: CoverEffect) -> None:
    """Materials belong to the group named; source, how far read and a caution are given; nothing unread is published."""
    assert effect.group in GROUPS.values() and effect.against in GROUPS.values()
    assert all(GROUPS[material] == effect.group for material in effect.materials)
    assert set(effect.seasons) <= {"winter", "spring", "summer", "autumn"}
    assert effect.source and effect.caution.endswith(".")
    assert effect.read in ("table", "abstract", "excerpt", "via-reference", "not published")
    assert (effect.read == "not published") == (effect.direction == "not published")


def test_stones_in_spring_are_not_published() -> None:
    """For stones against bare soil at 10 cm in a spring of no stated climate there is no size, and the reply says so."""
    for material in ("stones", "gravel", ""):
        found = published_effect(EFFECTS, CoverQuestion("stone", 10, "spring", 8, material))
        assert found.verdict == "not published"
        assert (found.low_k, found.high_k, found.fits, found.figure()) == (None, None, (), None)
        assert "disagree in sign" in found.gaps[0].caution
        assert {e.direction for e, _ in found.near} == {"warmer", "cooler"}


def test_stones_on_a_summer_afternoon_have_a_range() -> None:
    """-4.8 to -1.7 °C against bare soil, +0.9 to +4.4 against organic covers (Iles & Dosmann 1999, table 1)."""
    asked = CoverQuestion("stone", 10, "summer", 15)
    found = published_effect(EFFECTS, asked)
    assert (found.verdict, found.low_k, found.high_k) == ("size", -4.8, -1.7)
    against_organic = published_effect(EFFECTS, replace(asked, against="organic"))
    assert (against_organic.low_k, against_organic.high_k) == (0.9, 4.4)
    stones = [e.temp_c for e in found.fits if e.temp_c is not None]
    organic = [e.temp_c for e in EFFECTS if e.group == "organic" and e.temp_c is not None]
    assert min(stones) - max(organic) == pytest.approx(0.9)
    assert max(stones) - min(organic) == pytest.approx(4.4)


def test_organic_covers_on_a_summer_afternoon() -> None:
    """5.7 to 6.1 °C cooler than bare soil (same table), and the figure carries the caution."""
    found = published_effect(EFFECTS, CoverQuestion("organic", 10, "summer", 15))
    assert (found.low_k, found.high_k) == (-6.1, -5.7)
    figure = found.figure()
    assert figure is not None
    assert figure.told() == "-5.9 ± 0.2 °C (published range)"
    assert figure.caution == "Iowa, growing season of 1997, mean of 12 afternoons: not a spring morning."


def test_a_direction_without_a_size_is_only_a_direction() -> None:
    """Clear film in spring at 10 cm is warmer, by how much is not printed; straw measured about equal."""
    clear = published_effect(EFFECTS, CoverQuestion("film", 10, "spring", 8, "clear film"))
    assert (clear.verdict, clear.low_k, [e.direction for e in clear.fits]) == ("direction only", None, ["warmer"])
    straw = published_effect(EFFECTS, CoverQuestion("organic", 10, "spring", 8, "straw"))
    assert (straw.verdict, [e.direction for e in straw.fits]) == ("direction only", ["same"])
    assert straw.gaps[0].group == "organic"


def test_sources_that_fit_and_disagree_are_disputed() -> None:
    """Two entries of opposite sign under the same conditions give no range to quote."""
    cooler = CoverEffect(
        ("gravel",), "stone", "bare", "cooler", "one", "table", "A.", shallowest_cm=10, deepest_cm=10,
        hours=(), seasons=("summer",), low_k=-2, high_k=-1,
    )  # fmt: skip
    warmer = replace(cooler, direction="warmer", low_k=1, high_k=2, source="other")
    found = published_effect([cooler, warmer], CoverQuestion("stone", 10, "summer", None, "gravel"))
    assert (found.verdict, found.low_k, found.high_k, found.figure()) == ("disputed", -2, 2, None)


@pytest.mark.parametrize(
    ("change", "reason"),
    [
        ({"depth_cm": 11}, None),
        ({"depth_cm": 11.1}, "measured at 10 cm"),
        ({"depth_cm": 8.9}, "measured at 10 cm"),
        ({"season": "spring"}, "measured in summer"),
        ({"hour": 14}, None),
        ({"hour": 13.9}, "read from 14 to 16 h"),
        ({"hour": None}, "read from 14 to 16 h"),
        ({"material": "bark"}, "measured under wood chips"),
        ({"material": ""}, None),
    ],
)
def test_other_conditions_do_not_fit(change: dict[str, object], reason: str | None) -> None:
    """Depth within a centimetre, hour within the hours read, season and material: at the limit fits, past it not."""
    chips = next(e for e in EFFECTS if e.named == "wood chips")
    asked = replace(CoverQuestion("organic", 10, "summer", 15, "wood chips"), **change)  # type: ignore[arg-type]
    assert not_fitting(chips, asked) == (() if reason is None else (reason,))


def test_what_is_not_stated_never_fits() -> None:
    """An entry without depth, season or hour is near a question, never an answer to it; nor is a dry climate's."""
    for effect in EFFECTS:
        if effect.direction == "not published":
            continue
        silent = effect.deepest_cm is None or not effect.seasons or (effect.hours is None and not effect.any_hour)
        for season in ("spring", "summer"):
            for hour in (8.0, 15.0, None):
                for depth in (5, 10, 40):
                    asked = CoverQuestion(effect.group, depth, season, hour, against=effect.against)
                    if silent or effect.climate:
                        assert effect not in published_effect(EFFECTS, asked).fits


@pytest.mark.parametrize(("climate", "fits"), [("dry", True), ("humid", False), ("", False)])
def test_a_dry_climates_figure_is_for_dry_climates(climate: str, fits: bool) -> None:
    """What was measured in a dry climate answers no question from elsewhere, nor one that does not say."""
    loess = next(e for e in EFFECTS if e.low_k == 4.6)
    asked = CoverQuestion("stone", 10, "spring", 8, "gravel", climate=climate)
    assert not_fitting(replace(loess, any_hour=True), asked) == (() if fits else ("measured in a dry climate",))


def test_a_mean_of_days_is_no_single_hour() -> None:
    """The Swiss vineyard's +1.5 °C fits the mean of summer days and no hour of them; a dry spring must be asked for."""
    mean = published_effect(EFFECTS, CoverQuestion("stone", 10, "summer", None, "gravel"))
    assert (mean.verdict, mean.low_k) == ("size", 1.5)
    hour = published_effect(EFFECTS, CoverQuestion("stone", 10, "summer", 8, "gravel"))
    assert hour.verdict == "nothing"
    assert ("a mean of whole days",) in [reasons for _, reasons in hour.near]
    dry = CoverQuestion("stone", 10, "spring", 8, "gravel", climate="dry")
    assert ("hour not stated",) in [reasons for _, reasons in published_effect(EFFECTS, dry).near]


def test_nothing_is_said_of_covers_that_nobody_compared() -> None:
    """Clover against stone has no entry at all."""
    found = published_effect(EFFECTS, CoverQuestion("living", 10, "spring", 8, "clover", against="stone"))
    assert (found.verdict, found.fits, found.near) == ("nothing", (), ())


@pytest.mark.parametrize(
    ("change", "sentence"),
    [
        ({"direction": "hotter"}, "direction 'hotter' is none of warmer, cooler"),
        ({"high_k": None}, "one end of the range is missing"),
        ({"direction": "warmer"}, "-6.0 to -6.0 °C is not warmer"),
        ({"low_k": -5.0}, "-5.0 to -6.0 °C is not cooler"),
        ({"temp_c": 25.3}, "its means are -4.0 °C apart, outside its own range"),
        ({"hours": (16, 14)}, "hours (16, 14) are not from one to a later hour"),
    ],
)
def test_an_entry_that_contradicts_itself_is_refused(change: dict[str, object], sentence: str) -> None:
    """Sign, ends, printed means and hours have to agree."""
    chips = next(e for e in EFFECTS if e.named == "wood chips")
    with pytest.raises(ValueError) as refused:
        replace(chips, **change)  # type: ignore[arg-type]
    assert sentence in str(refused.value)


@pytest.mark.parametrize(
    ("change", "sentence"), [({"depth_cm": 0}, "depth 0 cm is not above 0"), ({"hour": 25}, "hour 25 is not within")]
)
def test_an_impossible_question_is_refused(change: dict[str, object], sentence: str) -> None:
    """A depth of nought and a 25th hour are named."""
    with pytest.raises(ValueError) as refused:
        published_effect(EFFECTS, replace(CoverQuestion("stone", 10, "spring", 8), **change))  # type: ignore[arg-type]
    assert sentence in str(refused.value)


NOON = datetime(2026, 4, 14, 12, tzinfo=UTC)


def reading(
    temp_c: float = 10.0, minutes: float = 0, depth_cm: float = 10.0, sky: str = "sun", ref: int = 0, days: int = 0
) -> Reading:
    at = NOON + timedelta(minutes=minutes, days=days)
    return Reading(temp_c, depth_cm, at, at.date(), sky, ref)


def test_a_fair_pair_lacks_nothing() -> None:
    """Where two readings can be compared nothing is asked for."""
    assert missing_for_fair([reading()], [reading(minutes=60, ref=1)]) is None


@pytest.mark.parametrize(
    ("other", "apart"),
    [
        (reading(minutes=61, ref=1), ("hour",)),
        (reading(depth_cm=5, ref=1), ("depth",)),
        (reading(sky="cloud", ref=1), ("sky",)),
        (reading(minutes=180, depth_cm=20, sky="shade", ref=1), ("hour", "depth", "sky")),
        (reading(days=1, ref=1), ("hour", "day")),
    ],
)
def test_what_parts_two_readings_is_named(other: Reading, apart: tuple[str, ...]) -> None:
    """Each broken condition is named, and both ways to mend it are given, the later first."""
    gap = missing_for_fair([reading()], [other])
    assert gap is not None
    assert gap.apart == apart
    assert {w.side for w in gap.wanted} == {"these", "those"}
    assert gap.wanted[0].to_at >= gap.wanted[1].to_at


def test_the_nearest_breaks_fewest_conditions_then_least() -> None:
    """A pair wrong in depth alone is nearer than one wrong in hour and sky, and 6 cm nearer than 20."""
    these = [reading(ref=0)]
    those = [
        reading(minutes=90, sky="cloud", ref=1),
        reading(depth_cm=30, ref=2),
        reading(depth_cm=16, ref=3),
    ]
    gap = missing_for_fair(these, those)
    assert gap is not None and gap.nearest is not None
    assert gap.nearest[1].ref == 3


def test_one_side_alone_wants_a_reading_on_the_other() -> None:
    """With nothing read on one side the wanted reading stands beside the latest there is; with nothing at all, none."""
    gap = missing_for_fair([reading(ref=0), reading(minutes=30, depth_cm=5, ref=1)], [])
    assert gap is not None
    assert gap.nearest is None and gap.apart == ()
    (wanted,) = gap.wanted
    assert (wanted.side, wanted.beside.ref, wanted.shallowest_cm, wanted.deepest_cm) == ("those", 1, 4, 6)
    nothing = missing_for_fair([], [])
    assert nothing is not None and nothing.wanted == ()


def test_an_hour_that_has_passed_wants_both_again() -> None:
    """Up to an hour after the latest reading one more helps; a minute later none does."""
    these, those = [reading(ref=0)], [reading(minutes=-200, ref=1)]
    still = missing_for_fair(these, those, now=NOON + timedelta(minutes=60))
    assert still is not None and [w.side for w in still.wanted] == ["those"]
    late = missing_for_fair(these, those, now=NOON + timedelta(minutes=61))
    assert late is not None and late.wanted == () and late.nearest is not None


def test_the_latest_reading_counts_when_it_is_asked_now() -> None:
    """A reading just taken can still be paired, though two older ones are nearer to a pair."""
    these = [reading(ref=0), reading(days=3, depth_cm=5, sky="cloud", ref=1)]
    those = [reading(minutes=70, ref=2)]
    gap = missing_for_fair(these, those, now=NOON + timedelta(days=3, minutes=10))
    assert gap is not None and gap.nearest is not None
    assert gap.nearest[0].ref == 0
    assert [(w.side, w.beside.ref) for w in gap.wanted] == [("those", 1)]


readings = st.lists(
    st.tuples(
        st.integers(0, 3000), st.sampled_from([2.0, 5.0, 10.0, 20.0]), st.sampled_from(["sun", "cloud", "shade"])
    ),
    max_size=5,
)


@given(readings, readings, st.integers(-60, 60), st.floats(0, 1))
def test_the_wanted_reading_makes_a_fair_pair(one: list[tuple], other: list[tuple], minute: int, share: float) -> None:
    """Any reading taken within the depth, hours and sky asked for can be compared; and None means it can already."""
    these = [reading(10, m, d, s, ref=n) for n, (m, d, s) in enumerate(one)]
    those = [reading(10, m, d, s, ref=100 + n) for n, (m, d, s) in enumerate(other)]
    gap = missing_for_fair(these, those)
    assert (gap is None) == bool(fair_pairs(these, those))
    for wanted in gap.wanted if gap else ():
        at = wanted.beside.at + timedelta(minutes=minute)
        depth = wanted.shallowest_cm + share * (wanted.deepest_cm - wanted.shallowest_cm)
        taken = Reading(12.0, depth, at, wanted.beside.day, wanted.sky, 999)
        assert wanted.from_at <= at <= wanted.to_at
        assert are_fair(taken, wanted.beside)
        grown = ([*these, taken], those) if wanted.side == "these" else (these, [*those, taken])
        assert missing_for_fair(*grown) is None


@given(readings, readings)
def test_asking_the_other_way_round_names_the_same_gap(one: list[tuple], other: list[tuple]) -> None:
    """The conditions broken are the same whichever soil is named first."""
    these = [reading(10, m, d, s, ref=n) for n, (m, d, s) in enumerate(one)]
    those = [reading(10, m, d, s, ref=100 + n) for n, (m, d, s) in enumerate(other)]
    forward, back = missing_for_fair(these, those), missing_for_fair(those, these)
    assert (forward is None) == (back is None)
    if forward and back:
        assert forward.apart == back.apart
        assert (forward.nearest and forward.nearest[::-1]) == back.nearest


def test_days_of_pairs_are_counted_as_days() -> None:
    """Six days all 2 °C or more warmer are settled; three pairs in one of them weigh as one day."""
    gains = [2.0, 2.5, 3.0, 2.2, 2.8, 3.4]
    here = [reading(10 + g, days=d, ref=d) for d, g in enumerate(gains)] + [
        reading(12, minutes=n, ref=20 + n) for n in (5, 9)
    ]
    there = [reading(10, days=d, ref=100 + d) for d in range(6)] + [reading(10, minutes=n, ref=120 + n) for n in (5, 9)]
    result = contrast_trial(here, there)
    contrast = soil_contrast(here, there)
    assert result is not None and contrast is not None
    assert (result.count_a, result.chance.p) == (6, 2 / 64)
    assert contrast.warmer_by_k == pytest.approx(fmean(gains), abs=0.01)
    assert result.shift.shift == pytest.approx(2.65)
    turned = contrast_trial(there, here)
    assert turned is not None and turned.shift.shift == -result.shift.shift


def test_a_contrast_keeps_to_the_depth_and_cover_that_were_compared() -> None:
    """Pairs at another depth or under an earlier cover are left out, as in the contrast itself."""
    here = [replace(reading(12, days=d, ref=d), cover="bare") for d in range(3)]
    here += [replace(reading(19, days=d, depth_cm=5, ref=10 + d), cover="bare") for d in range(2)]
    here += [replace(reading(30, days=-5, ref=20), cover="chips")]
    there = [replace(reading(10, days=d, ref=100 + d), cover="bare") for d in range(3)]
    there += [replace(reading(10, days=d, depth_cm=5, ref=110 + d), cover="bare") for d in range(2)]
    there += [replace(reading(10, days=-5, ref=120), cover="bare")]
    result = contrast_trial(here, there)
    assert result is not None
    assert (result.count_a, result.shift.shift) == (3, 2.0)
    assert contrast_trial(here, []) is None
