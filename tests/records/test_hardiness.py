"""The file of critical temperatures: what it holds, and which errors of transcription it refuses."""

from __future__ import annotations

from pathlib import Path

import pytest

from advisor.calc.critical_temperature import celsius, critical, new_growth_alert
from advisor.errors import BadRules
from advisor.records.hardiness import FILE, Hardiness, load_hardiness

RULES = Path(__file__).resolve().parents[2] / "rules"
GOOD = (RULES / FILE).read_text(encoding="utf-8")


@pytest.fixture(scope="module")
def hardiness() -> Hardiness:
    """The rule base's own file."""
    return load_hardiness(RULES)


def test_every_species_has_a_table_or_a_reason(hardiness: Hardiness) -> None:
    """No kind is passed over in silence, and none is named that is no species."""
    species = {path.stem for path in (RULES / "species").glob("*.toml")}
    assert set(hardiness.buds) | set(hardiness.not_published) == species


def test_nectarine_says_that_it_is_peach(hardiness: Hardiness) -> None:
    """Borrowed values carry the kind they came from and a note of it."""
    nectarine = hardiness.buds["nectarine"]
    assert (nectarine.same_as, nectarine.stages) == ("peach", hardiness.buds["peach"].stages)
    assert "values of peach" in nectarine.notes[0]


def test_the_apricot_gap_is_kept(hardiness: Hardiness) -> None:
    """The 90 % point of apricot at first swelling is not published, and nothing stands in for it."""
    first = hardiness.buds["apricot"].stages[0]
    assert (first.words, first.kill10_f, first.kill90_f) == ("first swelling", 15.0, None)
    gaps = [s.words for kind in hardiness.buds.values() for s in kind.stages if s.kill90_f is None]
    assert gaps == ["first swelling"]


def test_calculation_takes_the_loaded_kinds(hardiness: Hardiness) -> None:
    """Every code of every kind gives values inside its published stages and a reason outside."""
    for kind in hardiness.buds.values():
        first, last = kind.stages[0].bbch_from, kind.stages[-1].bbch_to
        for code in range(100):
            at = critical(kind, code)
            assert (at.kill10_f is not None) == (first <= code <= last)
            assert bool(at.unknown) == (at.kill90_f is None)


def test_later_codes_are_never_hardier(hardiness: Hardiness) -> None:
    """As buds open they only grow tenderer, between the published stages too."""
    for kind in hardiness.buds.values():
        tens = [t for code in range(100) if (t := critical(kind, code).kill10_f) is not None]
        assert tens == sorted(tens)


def test_fig_stands_apart_from_the_tables(hardiness: Hardiness) -> None:
    """Fig has two levels of common practice and no table to interpolate in."""
    assert "fig" not in hardiness.buds
    fig = hardiness.new_growth["fig"]
    assert (fig.alert_c, fig.damage_c, fig.swelling_c, fig.closed_c) == (0.0, celsius(28), celsius(28), celsius(25))
    assert fig.sources[0]["cite"] == "common practice, no source"
    assert new_growth_alert(-1.0, fig.alert_c, fig.damage_c) == "alert"


def test_sources_and_the_exposure_are_named(hardiness: Hardiness) -> None:
    """Each table names a work that was read, our own mapping of stages, and what the loss means for the crop."""
    assert hardiness.exposure_minutes == 30
    for kind in hardiness.buds.values():
        assert any(source.get("read") == "table" for source in kind.sources)
        assert any(source["cite"] == "house judgement" and "BBCH" in source["backs"] for source in kind.sources)
        assert kind.source and "crop" in kind.crop


APPLE_BLOOM = '"first bloom", bbch = [60, 61], kill10_f = 28, kill90_f = 25'


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        (APPLE_BLOOM, APPLE_BLOOM.replace("25", "15"), "first bloom hardier than full pink .* transcription"),
        (APPLE_BLOOM, APPLE_BLOOM.replace("25", "29"), "90 % at 29 °F, 10 % at 28 °F"),
        (APPLE_BLOOM, APPLE_BLOOM.replace("kill10_f = 28", "kill10_f = 27"), "hardier than full pink"),
        (APPLE_BLOOM, APPLE_BLOOM.replace("[60, 61]", "[61, 60]"), "BBCH 61 to 60"),
        (APPLE_BLOOM, APPLE_BLOOM.replace("[60, 61]", "[59, 61]"), "first bloom at or before full pink"),
        (APPLE_BLOOM, APPLE_BLOOM.replace("= 25", '= "unknown"'), "first bloom: 'unknown'"),
        (APPLE_BLOOM, APPLE_BLOOM.replace("= 28", '= "not published"'), "only a 90 % point"),
        ('same_as = "peach"', 'same_as = "plum"', "Name a kind listed before"),
        ('id      = "pear"', 'id      = "apple"', "apple: two tables"),
        ('id  = "mulberry"', 'id  = "apple"', "a reason for having none"),
        ("exposure_minutes = 30", "", "no key 'exposure_minutes'"),
        ("damage_f   = 28", "damage_f   = 33", "The alert is the warmer"),
        ("closed_f   = 25", "closed_f   = 28", "closed 28.0, swelling 28.0, green 28.0 °F.* tenderer"),
        ("swelling_f = 28", "swelling_f = 29", "swelling 29.0, green 28.0 °F"),
        ('read = "via-reference"', 'read = "somewhat"', "read 'somewhat'"),
        ("notes   = []", "", "no key 'notes'"),
    ],
)
def test_what_does_not_hold_together_is_refused(tmp_path: Path, old: str, new: str, said: str) -> None:
    """A newsletter's copy with apple bloom at 15 is one case: each fault names the kind and what to do."""
    assert old in GOOD
    (tmp_path / FILE).write_text(GOOD.replace(old, new, 1), encoding="utf-8")
    with pytest.raises(BadRules, match=said):
        load_hardiness(tmp_path)


def test_a_kind_without_stages_or_sources_is_refused(tmp_path: Path) -> None:
    """An empty table is no table, and values without a source are no values."""
    head = 'exposure_minutes = 30\n[[kind]]\nid = "apple"\ncrop = ""\nnotes = []\n'
    (tmp_path / FILE).write_text(head + 'sources = [{ cite = "house judgement" }]\nstages = []\n', encoding="utf-8")
    with pytest.raises(BadRules, match="no stages"):
        load_hardiness(tmp_path)
    (tmp_path / FILE).write_text(head + "sources = []\nstages = []\n", encoding="utf-8")
    with pytest.raises(BadRules, match="no source"):
        load_hardiness(tmp_path)
