"""The published requirements: what the file holds, and what its loader refuses."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

from advisor.calc.requirement import Requirement
from advisor.config import find_rules
from advisor.errors import BadRules
from advisor.records.requirements import PublishedNeeds, load_requirements

SOURCE = 'source = { cite = "a table", read = "table", backs = "the figures" }'
APPLE = f'kind = "apple"\nstage = "bloom"\nchill_metric = "chill portions"\n{SOURCE}'
ENTRY = f"[[requirement]]\n{APPLE}\nchill_low = 40\nchill_high = 60\n"
HEAT_GAP = '[[gap]]\nkind = "apple"\nwhat = "heat"\nsays = "none was found"\n'
RIPE = f'[[ripening]]\nkind = "apple"\ncrop = "main"\n{SOURCE}\n'
WIDTH = f'[[single_width]]\nmetric = "chill portions"\nplus_minus = 4\n{SOURCE}\n'


@pytest.fixture(scope="module")
def needs() -> PublishedNeeds:
    return load_requirements(find_rules())


def load(folder: Path, text: str) -> PublishedNeeds:
    """Load a rule base of one species with this requirements file."""
    (folder / "species").mkdir()
    shutil.copy(find_rules() / "species" / "apple.toml", folder / "species")
    (folder / "requirements.toml").write_text(text, encoding="utf-8")
    return load_requirements(folder)


def test_every_species_has_figures_or_a_gap(needs: PublishedNeeds) -> None:
    """Chill and heat of each species are either given or said not to be known."""
    for kind in (path.stem for path in (find_rules() / "species").glob("*.toml")):
        chill = needs.requirements_of(kind)
        assert bool(chill) != bool(needs.gap(kind, "chill"))
        assert any(each.heat_low for each in chill) != bool(needs.gap(kind, "heat"))


def test_every_published_entry_makes_a_requirement(needs: PublishedNeeds) -> None:
    """The ranges read are ones that the calculation accepts."""
    for each in needs.requirements:
        made = Requirement(
            each.chill_low, each.chill_high, each.heat_low, each.heat_high,
            each.chill_metric, each.heat_metric or "none", each.told_source,
        )  # fmt: skip
        assert made.chill_range[1] > 0


def test_a_cultivars_own_entry_comes_first(needs: PublishedNeeds) -> None:
    """Bergeron's 62 to 65 portions stand before the kind's range; an unknown cultivar has the kind's (UC ANR table)."""
    bergeron, *kind = needs.requirements_of("apricot", "bergeron")
    assert (bergeron.chill_low, bergeron.chill_high) == (62.0, 65.0)
    assert kind == needs.requirements_of("apricot", "no such") == needs.requirements_of("apricot")
    assert all(not each.cultivar for each in kind)


def test_a_cultivar_lies_within_its_kind(needs: PublishedNeeds) -> None:
    """No cultivar's range leaves that of its kind in the same metric and from the same source, single widths aside."""
    for each in needs.requirements:
        for kind in needs.requirements:
            same = (kind.kind, kind.chill_metric, kind.source["cite"]) == (
                each.kind,
                each.chill_metric,
                each.source["cite"],
            )
            if each.cultivar and not kind.cultivar and same:
                assert kind.chill_low - 4 <= each.chill_low
                assert each.chill_high <= kind.chill_high + 4


def test_a_single_figure_is_widened(needs: PublishedNeeds) -> None:
    """Golden Delicious' 50 portions (UC ANR table) become 46 to 54."""
    (found,) = [each for each in needs.requirements if each.cultivar == "Golden Delicious"]
    assert (found.chill_low, found.chill_high) == (46.0, 54.0)


def test_fig_says_what_is_not_known(needs: PublishedNeeds) -> None:
    """Fig has weak chill figures only, no heat, main-crop days and no breba days."""
    assert all(each.weak and "weak source" in each.told_source for each in needs.requirements_of("fig"))
    gap = needs.gap("fig", "heat")
    assert gap is not None
    assert "base 10 °C is common practice" in gap.says
    main = needs.days_to_ripe("fig", "main")
    assert main is not None
    assert (main.days_low, main.days_high) == (90.0, 120.0)
    assert needs.days_to_ripe("fig", "breba") is None
    assert needs.gap("fig", "days to ripe, breba") is not None


def test_a_small_file_is_read(tmp_path: Path) -> None:
    """One range and one gap are enough for one species."""
    found = load(tmp_path, ENTRY + HEAT_GAP)
    assert [(each.chill_low, each.chill_high) for each in found.requirements] == [(40.0, 60.0)]
    assert found.requirements[0].told_source == "a table, read: table"


@pytest.mark.parametrize(
    ("text", "said"),
    [
        (ENTRY + HEAT_GAP + ENTRY, "apple twice from one source"),
        (ENTRY, "nothing on heat for apple"),
        (HEAT_GAP, "nothing on chill for apple"),
        (ENTRY + HEAT_GAP + HEAT_GAP.replace('"heat"', '"chill"'), "apple has chill and a gap for it"),
        (ENTRY.replace('"apple"', '"aple"'), "kind 'aple'"),
        (ENTRY + "base = 4\n", "unknown key 'base'"),
        ("[[requirements]]\n" + ENTRY, "unknown table 'requirements'"),
        (ENTRY.replace("[[requirement]]", "[requirement]"), r"a single table \[requirement\]"),
        (ENTRY.replace('"bloom"', '"flowering"'), "stage 'flowering'"),
        (ENTRY.replace("chill portions", "portions"), "chill_metric 'portions'"),
        (ENTRY.replace("chill_low = 40", "chill_low = 61"), "chill 61 to 60"),
        (ENTRY.replace("chill_low = 40\n", ""), "chill None to 60"),
        (ENTRY.replace("= 60", "= 800"), "chill 40 to 800.*to 150"),
        (ENTRY.replace("= 60", "= nan"), "chill 40 to nan"),
        (ENTRY.replace("= 60", "= true"), "chill 40 to True"),
        (ENTRY + "chill_single = 50\n", "chill_single beside a range"),
        (f"[[requirement]]\n{APPLE}\nchill_single = 50\n", "a single figure in chill portions"),
        (WIDTH + f'[[requirement]]\n{APPLE}\nchill_single = "50"\n', "single chill '50'"),
        (WIDTH.replace("chill portions", "portions"), "metric 'portions'"),
        (WIDTH.replace("= 4", "= -4"), "width -4"),
        (ENTRY + "heat_low = 100\nheat_high = 200\n", "heat_metric None"),
        (ENTRY + 'heat_metric = "degree-days above 5 °C"\nheat_low = 100\n', "heat 100 to None"),
        (ENTRY + 'heat_metric = "degree-days above 5 °C"\nheat_low = 0\nheat_high = 9\n', "heat 0 to 9"),
        (ENTRY + 'weak = "yes"\n', "weak 'yes'"),
        (ENTRY.replace('read = "table"', 'read = "not yet"'), "not read, not marked weak"),
        (ENTRY.replace('read = "table"', 'read = "page"'), "read 'page'"),
        (ENTRY.replace('cite = "a table", ', ""), "no source with cite and backs"),
        (ENTRY + HEAT_GAP.replace('"heat"', '"base"'), "what 'base'"),
        (ENTRY + HEAT_GAP.replace("none was found", " "), "no sentence in says"),
        (RIPE + "days_low = 0\ndays_high = 9\n", "days 0 to 9"),
        (RIPE.replace('"main"', '"second"') + "days_low = 8\ndays_high = 9\n", "crop 'second'"),
    ],
)  # fmt: skip
def test_a_bad_file_is_refused_in_words(tmp_path: Path, text: str, said: str) -> None:
    """Each fault is named with what was found."""
    with pytest.raises(BadRules, match=f"reading requirements.toml.*{said}"):
        load(tmp_path, text)
