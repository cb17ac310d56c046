"""Where two causes stand, the reply asks for the one reading that tells them apart, and asks for nothing twice."""

from __future__ import annotations

from datetime import date, timedelta
from typing import Any, cast

from small_garden import ZONE, SmallGarden

from advisor.conversation import Adviser
from advisor.language.render import Speech
from advisor.language.reply import answer_reply
from advisor.language.understand import Understood
from advisor.records.store import Garden

TODAY = date(2026, 4, 28)


def answer(adviser: Adviser, garden: SmallGarden, question: str, **named: Any) -> dict[str, Any]:
    names = frozenset(fact.text("name") for kind in ("spot", "plant") for fact in garden.of(kind))
    called = {one.id: one.name for one in adviser.lore.species.values()}
    speech = Speech("metric", ZONE, TODAY, adviser.base.kinds, names, called)
    return answer_reply(adviser.answer(cast(Garden, garden), Understood(question, **named), TODAY), speech)


def asks(reply: dict[str, Any]) -> list[str]:
    return [lack["ask"] for lack in reply["lacking"]]


def causes(reply: dict[str, Any]) -> set[str]:
    return {one["claim"] for one in reply["conclusions"] if one["kind"] == "cause" and one["grade"] != "ruled out"}


def late_fig(growing: str = "ground", under_cover: str = "none") -> SmallGarden:
    """Tell a fig asleep on 27 April and three of its kind that woke on 14 April beside it."""
    garden = SmallGarden().spot("bed", under_cover=under_cover).spot("bare bed", under_cover=under_cover)
    garden.plant("old fig", growing=growing).stage("old fig", "2026-04-27", 1)
    for name in ("east fig", "middle fig", "west fig"):
        garden.plant(name, "bare bed", growing=growing).stage(name, "2026-04-18", 9)
    return garden


def hard_winter(garden: SmallGarden) -> SmallGarden:
    """Tell a winter that went down to -14 °C."""
    for n in range((TODAY - date(2025, 11, 1)).days + 1):
        day = date(2025, 11, 1) + timedelta(days=n)
        garden.weather(day.isoformat(), -14.0 if day == date(2026, 1, 12) else 1.0 + n % 3, 9.0)
    return garden


def test_cold_roots_or_winter_are_told_apart_by_the_bark(adviser: Adviser) -> None:
    """A mulched fig after a hard winter: scrape it; once it was scraped that is not asked again."""
    garden = hard_winter(late_fig()).cover("bed", "wood chips", "2025-10-20", depth_cm=10.0)
    reply = answer(adviser, garden, "why-late", plant="old fig")
    assert {"cold-roots", "winter-injury"} <= causes(reply)
    assert sum("bark" in ask and "tip" in ask for ask in asks(reply)) == 1
    garden.tell("inspection", plant="old fig", on=date(2026, 4, 26), scratch="green", height="all")
    reply = answer(adviser, garden, "why-late", plant="old fig")
    assert "winter-injury" not in causes(reply)
    assert not any("tip" in ask for ask in asks(reply))


def test_a_late_pot_is_lifted_before_it_is_watered(adviser: Adviser) -> None:
    """Nobody felt the root ball: its weight is asked for; felt wet, watering is warned of."""
    garden = late_fig("pot", "shelter")
    asked = asks(answer(adviser, garden, "why-late", plant="old fig"))
    assert sum("root ball" in ask for ask in asked) == 1
    garden.tell("inspection", plant="old fig", on=date(2026, 4, 26), root_ball="wet")
    reply = answer(adviser, garden, "why-late", plant="old fig")
    assert causes(reply) == {"drowned-roots"} and "stop watering" in reply["reply"]
    assert not any("root ball" in ask for ask in asks(reply))


def test_nothing_is_asked_twice(adviser: Adviser) -> None:
    """What a rule asks for of a plant or spot is not asked for again because it would raise a grade."""
    garden = SmallGarden().spot("chips", under_cover="none").spot("thin", under_cover="none")
    garden.cover("chips", "wood chips", "2025-10-20", depth_cm=12.0)
    garden.cover("thin", "wood chips", "2025-10-20", depth_cm=4.0)
    reply = answer(adviser, garden, "compare-spots", spots=("chips", "thin"))
    assert [one["claim"] for one in reply["conclusions"]] == ["deeper-mulch-cooler"]
    assert [lack["kind"] for lack in reply["lacking"]] == ["soil_reading"]
