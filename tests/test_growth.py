"""Questions about the whole garden grow no faster than the garden: counted in calls, not timed.

Calls are counted because they are the same on every machine.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from functools import partial
from pathlib import Path

import pytest
from grown_garden import TODAY, synthetic_garden
from tests_shared import counted

from advisor.calc.degree_days import single_sine_degree_days
from advisor.conversation import Adviser
from advisor.fact_base import Proof
from advisor.facts import Fact
from advisor.language.reply import answer_reply
from advisor.language.understand import Understood
from advisor.reasoning.derive import weather
from advisor.reasoning.derive.memory import Memories
from advisor.reasoning.derive.stages import past_ways
from advisor.reasoning.engine import Following
from advisor.records.corrections import undo
from advisor.records.importing import import_path
from advisor.records.reading import GardenReader
from advisor.records.store import Garden, NewRow, Said

NOW = datetime(2026, 4, 24, 20, tzinfo=UTC)
SUMMER = date(2025, 6, 15)
SPOTS = 8
QUESTIONS = {
    "what-next": TODAY, "frost-tonight": TODAY, "what-to-measure": TODAY, "pots-out": TODAY, "what-to-pinch": SUMMER,
    "why-late": TODAY, "when-wake": TODAY,
}  # fmt: skip
NAMED = {"why-late": "fig 7"}


def meant(question: str) -> Understood:
    return Understood(question, plant=NAMED.get(question, ""), species="fig" if question == "when-wake" else "")


@pytest.fixture(scope="module")
def grown(adviser: Adviser, tmp_path_factory: pytest.TempPathFactory) -> Callable[[int, int], Path]:
    """Make a garden of so many plants and years, once."""
    made: dict[tuple[int, int], Path] = {}

    def make(plants: int, years: int) -> Path:
        if (plants, years) not in made:
            folder = tmp_path_factory.mktemp(f"garden{plants}x{years}")
            (folder / "files").mkdir()
            with adviser.open(folder / "garden.db", create=True) as garden:
                import_path(garden, synthetic_garden(folder / "files", plants, years, SPOTS), adviser.lore, NOW)
            made[plants, years] = folder / "garden.db"
        return made[plants, years]

    return make


def fresh(adviser: Adviser) -> Adviser:
    """Return the adviser with nothing remembered."""
    return replace(adviser, _memories=Memories())


@pytest.mark.parametrize("question", QUESTIONS)
def test_each_further_plant_takes_as_many_calls_as_the_one_before(
    adviser: Adviser, grown: Callable[[int, int], Path], question: str
) -> None:
    """Eighty figs more beside 160 take at most a quarter more calls than they did beside eighty.

    Setting each fig beside each other one would take 1.67 times as many; before kin were told apart by groups, what
    comes next took 1.8 times as many.
    """
    calls = []
    for plants in (80, 160, 240):
        with adviser.open(grown(plants, 2)) as garden:
            for own in (fresh(adviser), fresh(adviser)):  # twice: what depends on the weather alone is kept elsewhere
                ask = partial(own.answer, garden, meant(question), QUESTIONS[question])
                taken = counted(ask)
            calls.append(taken)

    assert calls[2] - calls[1] <= 1.25 * (calls[1] - calls[0]), calls


@pytest.mark.parametrize("question", QUESTIONS)
def test_a_question_takes_as_many_statements_for_any_garden(
    adviser: Adviser, grown: Callable[[int, int], Path], question: str
) -> None:
    """Twice the plants and twice the years are read by as many statements, none of them for a plant or a year."""
    statements = []
    for plants, years in ((40, 2), (80, 4)):
        with adviser.open(grown(plants, years)) as garden:
            seen: list[str] = []
            garden.db.conn.set_trace_callback(seen.append)
            fresh(adviser).answer(garden, meant(question), QUESTIONS[question])
            garden.db.conn.set_trace_callback(None)
            statements.append(len(seen))

    assert abs(statements[0] - statements[1]) <= 2 * len(adviser.base.kinds)
    assert max(statements) < 4 * len(adviser.base.kinds)


@pytest.mark.parametrize("question", QUESTIONS)
def test_asked_again_nothing_is_worked_out_again(
    adviser: Adviser, grown: Callable[[int, int], Path], question: str
) -> None:
    """The second answer takes a small share of the calls of the first, and is the same."""
    own = fresh(adviser)
    found = []

    def ask() -> None:
        with own.open(grown(40, 2)) as garden:
            found.append(own.answer(garden, meant(question), QUESTIONS[question]))

    first, again = counted(ask), counted(ask)

    assert again < 0.1 * first, (first, again)
    assert found[0].conclusions == found[1].conclusions


def test_years_of_logs_cost_nothing_once_they_are_read(adviser: Adviser, grown: Callable[[int, int], Path]) -> None:
    """After one more log line the week's work takes no more calls with six years behind it than with three, by half."""
    calls = []
    for years in (3, 6):
        path = grown(40, years)
        own = fresh(adviser)
        with own.open(path) as garden:
            own.answer(garden, meant("what-next"), TODAY)
            garden.add([(Said("message", "m", NOW), [NewRow("work", {"plant": "fig 4", "on": TODAY, "what": "fed"})])])
        with own.open(path) as garden:
            calls.append(counted(lambda own=own, garden=garden: own.answer(garden, meant("what-next"), TODAY)))

    assert calls[1] <= 1.5 * calls[0], calls


MOST_CALLS = {"what-next": 30_000, "frost-tonight": 20_000, "why-late": 6_000}
"""What it took before what rests on others was kept by plant and spot: 142,000, 63,000 and 39,000 after a look."""


def after_a_log(adviser: Adviser, path: Path, question: str, told: NewRow) -> int:
    """Return how many calls it takes to derive a question's facts after one more row."""
    own = fresh(adviser)
    counts = []
    for turn, row in enumerate((told, told)):
        with own.open(path) as garden:
            garden.add([(Said("message", f"{question}{turn}", NOW), [row])])
        with own.open(path) as garden:

            def derive(own: Adviser = own, garden: Garden = garden) -> None:
                own.facts(replace(own.scene(garden, TODAY), plant=meant(question).plant), meant(question))
                own.histories(garden, TODAY)

            counts.append(counted(derive))
    return counts[-1]


@pytest.mark.parametrize("question", MOST_CALLS)
@pytest.mark.parametrize(
    "told",
    [
        NewRow("stage", {"plant": "fig 4", "on": TODAY, "bbch": 13}),
        NewRow("work", {"plant": "fig 4", "on": TODAY, "what": "watered"}),
        NewRow("soil_reading", {"spot": "bed 2", "temp_c": 12.4, "depth_cm": 10, "at": NOW, "sky": "sun"}),
    ],
    ids=lambda row: row.kind,
)
def test_one_more_row_of_one_plant_or_spot_is_little_work(
    adviser: Adviser, grown: Callable[[int, int], Path], question: str, told: NewRow
) -> None:
    """Facts after one more row take few calls beside 160 figs, and half as many again beside 240; years behind them
    count for what is added up of advice alone."""
    few, more, older = (after_a_log(adviser, grown(*size), question, told) for size in ((160, 2), (240, 2), (160, 4)))

    assert few <= MOST_CALLS[question], few
    assert more <= 1.6 * few, (few, more)
    assert older <= 1.6 * few, (few, older)


def test_years_that_are_over_are_not_gone_through_again_on_another_day(
    adviser: Adviser, grown: Callable[[int, int], Path]
) -> None:
    """On the next day what came of old advice, and when figs woke in earlier years, takes half the calls at most; both
    are what they would be worked out anew."""
    own, taken, found = fresh(adviser), list[int](), list[object]()

    def work_out(own: Adviser, garden: Garden, day: date) -> None:
        scene = own.scene(garden, day)
        ways = {name: past_ways(scene, name, "waking") for name in scene.plants}
        found.append((own.histories(garden, day), ways))

    for day in (TODAY, TODAY + timedelta(days=1)):
        with own.open(grown(40, 6)) as garden:
            taken.append(counted(partial(work_out, own, garden, day)))
            work_out(fresh(adviser), garden, day)

    assert taken[1] < 0.5 * taken[0], taken
    assert found[0] == found[1]
    assert found[2] == found[3]


@pytest.mark.parametrize("question", ["what-to-plant", "wrong-spot"])
def test_places_are_not_weighed_again_where_nothing_of_them_changed(
    adviser: Adviser, grown: Callable[[int, int], Path], question: str
) -> None:
    """After a look that brings no fig to a new stage the rules are run again for that fig at most; after one that
    does, and after a word on a spot, they are."""
    own, runs = fresh(adviser), list[object]()
    found, engine = own.engine_of(question)

    class Counting(Following):
        def run(self, facts: Iterable[Fact], before: Proof | None = None) -> Proof:
            runs.append(facts)
            return super().run(facts, before)

    own = replace(own, _engines={**own._engines, question: (found, Counting(engine.engine))})

    def run_after(told: NewRow) -> int:
        with own.open(grown(40, 4)) as garden:
            garden.add([(Said("message", f"{question}{told.kind}{len(runs)}", NOW), [told])])
            runs.clear()
            own.answer(garden, Understood(question, spots=("bed 2",)), TODAY)
        return len(runs)

    look = NewRow("stage", {"plant": "fig 4", "on": TODAY, "bbch": 13})
    assert run_after(look) > 5
    assert run_after(look) <= 1
    assert run_after(NewRow("stage", {"plant": "fig 4", "on": date(2025, 1, 5), "bbch": 9})) > 0
    assert (
        run_after(NewRow("soil_reading", {"spot": "bed 2", "temp_c": 2.0, "depth_cm": 10, "at": NOW, "sky": "sun"})) > 0
    )


TOLD = (
    [NewRow("stage", {"plant": "fig 7", "on": date(2026, 4, 23), "bbch": 9})],
    [NewRow("soil_reading", {"spot": "bed 2", "temp_c": 12.4, "depth_cm": 10, "at": NOW, "sky": "sun"})],
    [NewRow("move", {"plant": "fig 3", "to_spot": "bed 2", "on": date(2026, 4, 22)})],
    [NewRow("forecast_day", {"issued": TODAY, "for_day": date(2026, 4, 25), "min_c": -4.0, "sky": "clear"})],
    [NewRow("harm", {"plant": "fig 5", "on": date(2026, 4, 20), "cause": "frost", "extent": "most"})],
    [NewRow("weather_day", {"on": TODAY, "min_c": -3.0, "max_c": 9.0, "rain_mm": 0.0})],
    [NewRow("plant", {"name": "new fig", "species": "fig", "spot": "bed 1", "growing": "ground"})],
    [NewRow("cover", {"spot": "bed 3", "material": "bare", "put_on": TODAY})],
)


@pytest.mark.parametrize("question", ["what-next", "frost-tonight", "what-to-measure", "pots-out", "why-late"])
def test_what_is_remembered_never_shows(adviser: Adviser, grown: Callable[[int, int], Path], question: str) -> None:
    """After each thing told or taken back the answer is that of a reader that remembers nothing, to the letter."""
    own = fresh(adviser)
    path = grown(30, 3)

    def agree() -> None:
        with own.open(path) as garden:
            told = own.told(garden, meant(question), TODAY)[1]
            past = GardenReader(path, adviser.base.kinds, as_of=datetime(2100, 1, 1, tzinfo=UTC))
            with past:
                plain = answer_reply(adviser.answer(past, meant(question), TODAY), own.speech(garden, TODAY))
        assert told == plain

    agree()
    for number, rows in enumerate(TOLD):
        with Garden(path, adviser.base.kinds) as other:
            other.add([(Said("message", f"{question}{number}", NOW), rows)])
        agree()
    for number in reversed(range(len(TOLD))):
        with Garden(path, adviser.base.kinds) as other:
            undo(other, f"{question}{number}", Said("undo", "u", NOW))
        agree()


def test_the_heat_so_far_is_summed_once_for_all_plants_of_a_base(
    adviser: Adviser, grown: Callable[[int, int], Path], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Eighty figs more add no day to the sums of heat, which are those of the station and of their kind's base."""
    counts = []
    for plants in (80, 160):
        days: list[float] = []

        def noted(*given: float, days: list[float] = days) -> float:
            days.append(given[0])
            return single_sine_degree_days(*given)

        monkeypatch.setattr(weather, "single_sine_degree_days", noted)
        with adviser.open(grown(plants, 2)) as garden:
            fresh(adviser).answer(garden, meant("season-so-far"), TODAY)
        counts.append(len(days))

    assert counts[0] == counts[1] > 0
