"""A kind of tree as the rule book tells it: its traits, what frost it stands, what it needs, what is not known."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass

from advisor.conversation import Adviser
from advisor.doors.page.rule_shelf import READ
from advisor.language.render import Speech, sentence_case
from advisor.reasoning.condition_words import spaced
from advisor.records.hardiness import NO_SOURCE
from advisor.records.species import Species

BLOOM = {"hidden": "hidden inside the fruit"}
SETS = {"yes": "sets a crop alone", "no": "sets none without another sort near", "partly": "sets part of a crop alone"}


@dataclass(frozen=True)
class Needs:
    """A published need as a row: for what, which figures, by whom."""

    of: str
    chill: str
    heat: str
    source: str


@dataclass(frozen=True)
class ToldSpecies:
    """All that a page tells of one kind of tree."""

    name: str
    botanical: str
    names: tuple[str, ...]
    traits: tuple[tuple[str, str], ...]
    cultivars: tuple[tuple[str, str], ...]
    sources: tuple[tuple[str, str, str], ...]
    stages: tuple[tuple[str, str, str, str], ...]
    frost_says: tuple[str, ...]
    frost_sources: tuple[tuple[str, str, str], ...]
    needs: tuple[Needs, ...]
    ripening: tuple[tuple[str, str, str], ...]
    gaps: tuple[str, ...]


def all_species(adviser: Adviser) -> list[tuple[str, str]]:
    """Return (id, name) of every kind of tree, by name."""
    return sorted(((one.id, one.name) for one in adviser.lore.species.values()), key=lambda one: one[1].casefold())


def told_species(one: Species, adviser: Adviser, speech: Speech) -> ToldSpecies:
    """Return what is known of a kind of tree, in the grower's units."""
    hardiness, needs = adviser.lore.hardiness, adviser.lore.needs
    table, growth = hardiness.buds.get(one.id), hardiness.new_growth.get(one.id)
    stages = tuple(
        (stage.words, _codes(stage.bbch_from, stage.bbch_to), _fahrenheit(stage.kill10_f, speech),
         _fahrenheit(stage.kill90_f, speech))
        for stage in (table.stages if table else ())
    )  # fmt: skip
    says = [*((f"The same table as for {spaced(table.same_as)}.",) if table and table.same_as else ())]
    says += [sentence_case(text) for text in ((table.crop, *table.notes) if table else ()) if text]
    if growth:
        says += [
            f"New growth: watched from {speech.number(growth.alert_c, 'c')}, damaged from "
            f"{speech.number(growth.damage_c, 'c')}; a swelling bud from {speech.number(growth.swelling_c, 'c')}; "
            f"a closed bud is safe down to {speech.number(growth.closed_c, 'c')}, and what it stands below that "
            "is not known.",
            *(sentence_case(note) for note in growth.notes),
        ]
    return ToldSpecies(
        name=one.name,
        botanical=one.botanical,
        names=one.names[1:],
        traits=tuple(_traits(one, speech)),
        cultivars=tuple((name, _cultivar(spec)) for name, spec in one.cultivars.items()),
        sources=_sources(one.sources),
        stages=stages,
        frost_says=tuple(says),
        frost_sources=_sources((*(table.sources if table else ()), *(growth.sources if growth else ()))),
        needs=tuple(
            Needs(
                each.cultivar or "the kind as a whole",
                f"{each.chill_low:g} to {each.chill_high:g} {each.chill_metric}",
                "" if each.heat_low is None else f"{each.heat_low:g} to {each.heat_high:g} {each.heat_metric}",
                each.told_source,
            )
            for each in needs.requirements
            if each.kind == one.id
        ),
        ripening=tuple(
            (each.crop, f"{each.days_low:g} to {each.days_high:g} days", each.told_source)
            for each in needs.ripening
            if each.kind == one.id
        ),
        gaps=tuple(_gaps(one, adviser)),
    )


def _traits(one: Species, speech: Speech) -> Iterator[tuple[str, str]]:
    yield "Wakes, beside other fruit trees", one.wakes
    yield "Flowers", BLOOM.get(one.bloom, one.bloom) + (", before or with the leaves" if one.flowers_first else "")
    yield "Sets fruit", SETS[one.self_fertile]
    yield "Warmth", "ripens only in a warm season" if one.heat_lover else "ripens without a warm season"
    yield "Wet soil", "its roots suffer within days" if one.wet_hater else "borne for a while"
    yield "Dry thin soil", "suffers on it" if one.thirsty else "borne"
    yield "Wet leaves", "rots and spots follow them" if one.damp_hater else "do little harm"
    yield "Shade", "still crops with 4 to 6 hours of sun" if one.shade_bearer else "wants full sun"
    yield "After a hard winter", "may regrow from below" if one.roots_from_below else "does not come true from below"
    yield "Width when grown", speech.number(one.mature_spread_m, "m")
    for word, width in one.spread_on_m.items():
        yield f"On a stock called {word}", speech.number(width, "m")
    yield "Warmth is counted above", speech.number(one.base_c, "c")


def _cultivar(spec: Mapping[str, object]) -> str:
    said = {True: "yes", False: "no"}
    return ", ".join(f"{spaced(name)}: {said.get(value, value) if isinstance(value, bool) else value}"
                     for name, value in spec.items())  # fmt: skip


def _codes(first: int, last: int) -> str:
    return f"{first}" if first == last else f"{first} to {last}"


def _fahrenheit(value: float | None, speech: Speech) -> str:
    return "not published" if value is None else speech.number((value - 32) / 1.8, "c")


def _sources(sources: Iterable[Mapping[str, str]]) -> tuple[tuple[str, str, str], ...]:
    return tuple(
        (source["cite"], "" if source["cite"] in NO_SOURCE else READ.get(source.get("read", ""), ""), source["backs"])
        for source in sources
    )


def _gaps(one: Species, adviser: Adviser) -> Iterator[str]:
    """Yield what is not known of a kind, as sentences."""
    hardiness = adviser.lore.hardiness
    if one.id in hardiness.not_published:
        yield sentence_case(hardiness.not_published[one.id])
    elif one.id not in hardiness.buds and one.id not in hardiness.new_growth:
        yield "What cold its buds stand is not known here."
    for gap in adviser.lore.needs.gaps:
        if gap.kind == one.id:
            yield sentence_case(gap.says)
    if not any(each.kind == one.id for each in adviser.lore.needs.ripening):
        yield "How many days its fruit takes to ripen is not known here; your own years tell."
