"""A correction of what was just told as a change of its records: another day, plant, spot or figure."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime

from advisor.facts import Value
from advisor.language.quantities import Quantity, find_quantities, in_celsius, in_cm
from advisor.language.said.mentions import Mention
from advisor.language.said.pieces import words_of
from advisor.language.said.stages import code_for, find_stages
from advisor.language.said.subjects import find_subjects
from advisor.language.said.unit import LENGTH_UNITS, Ears
from advisor.language.when import Said, find_times
from advisor.records.kinds import Kind

FIGURES = ("temp_c", "depth_cm", "leaves", "shoot_cm", "fruits", "weight_kg", "min_c", "dew_point_c", "pot_litres")
"""Which of a record's figures a bare number puts right: the first that it has."""


FILLING = frozenset((
    "the", "a", "an", "my", "our", "in", "on", "at", "by", "of", "for", "from", "was", "were", "is", "are",
    "it", "its", "that", "this", "i", "we", "meant", "mean", "to", "be", "been", "and", "but", "really",
    "actually", "sorry", "oops", "no", "not", "rather", "only", "just", "instead", "course", "degrees", "deep",
    "one", "read", "reading", "reads", "tree", "plant", "spot", "with", "have", "has", "there", "here", "all",
    "both", "than", "more", "like", "about", "ok", "please", "done", "happened", "did", "them", "they", "those",
    "these", "as", "so", "well", "wait", "oh", "ah", "hm", "yes", "soil", "air",
))  # fmt: skip
"""Words beside what is put right; any other word tells that something else is spoken of."""


@dataclass(frozen=True)
class Changes:
    """What a correction says: a day, a plant or spot, figures, any of them absent; ``ask`` is what is not clear.

    ``denied`` are figures that it says were wrong: "11 not 9".
    """

    time: Said | None = None
    mention: Mention | None = None
    figures: tuple[Quantity, ...] = ()
    stage: str = ""
    sky: str = ""
    ask: str = ""
    denied: tuple[Quantity, ...] = ()

    @property
    def empty(self) -> bool:
        return self.time is None and self.mention is None and not self.figures and not self.stage + self.sky


def read_correction(text: str, ears: Ears) -> Changes:
    """Return what a correction changes; what it denies ("not the wall fig", "12 not 14") is left out."""
    lowered = text.casefold()
    denied = lowered.find(" not ")
    kept = text[:denied] if denied > 0 else text
    subjects = find_subjects(kept, ears.yard)
    times = find_times(kept, ears.now, ears.day_first)
    spans = [(one.start, one.end) for one in subjects.mentions] + [(one.start, one.end) for one in times]
    figures = [
        q
        for q in find_quantities(kept, ears.names)
        if not any(start <= q.start < end for start, end in spans) and q.high is None
    ]
    stages = [one for one in find_stages(kept, ears.stages) if not one.negated and not one.hedged]
    spans += [(one.start, one.end) for one in figures] + [(one.start, one.end) for one in stages]
    spans += [found.span() for pattern in (ears.talk.pattern("follow", "correct"), *ears.talk.sections["sky"].values())
              for found in pattern.finditer(kept)]  # fmt: skip
    left = {word.text for word in words_of(kept) if not any(start <= word.start < end for start, end in spans)}
    if left - FILLING:
        return Changes()  # "it was cold yesterday" tells of something else
    unsure = [one for one in subjects.mentions if not one.sure or len(one.names) != 1]
    if unsure:
        return Changes(ask="Which plant or spot do you mean? Give its whole name.")
    if len(subjects.mentions) > 1 or len(times) > 1 or len(figures) > 1:
        return Changes(ask="One thing to put right at a time, please.")
    return Changes(
        times[0] if times else None,
        subjects.mentions[0] if subjects.mentions else None,
        tuple(figures),
        stages[0].phrase if stages else "",
        ears.talk.first("sky", kept),
        denied=tuple(find_quantities(text[denied:], ears.names)) if denied > 0 else (),
    )


def changed_values(kind: Kind, values: Mapping[str, Value], changes: Changes, ears: Ears) -> dict[str, Value] | str:
    """Return a record's values with a correction made, or what cannot be done as a sentence."""
    new = dict(values)
    if changes.time is not None:
        done = _redated(kind, new, changes.time, ears)
        if done:
            return done
    if changes.mention is not None:
        done = _renamed(new, changes.mention, ears)
        if done:
            return done
    for figure in changes.figures:
        done = _refigured(new, figure, ears)
        if done:
            return done
    if changes.sky and "temp_c" in new and "source" not in new:
        new["sky"] = changes.sky
    if changes.stage:
        if "bbch" not in new:
            return "That record has no stage to put right."
        plant = ears.yard.plant(str(new["plant"]))
        said = find_stages(changes.stage, ears.stages)
        code = code_for(said[0], plant.species if plant else "", ears.stages) if said else None
        if code is None:
            return f"{changes.stage!r} is no stage of that plant that I know."
        new |= {"bbch": code, "words": changes.stage}
    return new


def has_figure(values: Mapping[str, Value], figures: Sequence[Quantity], ears: Ears) -> bool:
    """Return whether a record has one of some figures, in its own unit or the place's."""
    for figure in figures:
        said = {figure.value, in_celsius(figure, ears.yard.units), in_cm(figure, ears.yard.units)}
        near = [one for one in said if one is not None]
        for name in FIGURES:
            value = values.get(name)
            if isinstance(value, int | float) and any(abs(value - one) < SAME for one in near):
                return True
    return False


SAME = 0.06
"""Figures agree within this: a degree Fahrenheit is kept to a hundredth of a degree Celsius."""


def _redated(kind: Kind, new: dict[str, Value], time: Said, ears: Ears) -> str:
    if time.unclear or time.day > ears.now.date():
        return "That day is not clear, or has not come yet."
    field = kind.holds_on
    if not field or field not in new:
        return "That record has no day to put right."
    before = new[field]
    if isinstance(before, datetime):
        local = before.astimezone(ears.now.tzinfo)
        moved = datetime.combine(time.day, time.clock or local.time().replace(tzinfo=None), ears.now.tzinfo)
        if moved > ears.now:
            return "That time has not come yet."
        new[field] = moved
    else:
        new[field] = time.day
    return ""


def _renamed(new: dict[str, Value], mention: Mention, ears: Ears) -> str:
    name = mention.names[0]
    if mention.kind == "plant":
        if "plant" in new:
            new["plant"] = name
            return ""
        plant = ears.yard.plant(name)
        if "spot" in new and plant and plant.spot:
            new["spot"] = plant.spot
            return ""
    for field in ("to_spot", "spot"):
        if mention.kind == "spot" and field in new:
            new[field] = name
            return ""
    return f"That record is not about a {mention.kind}."


def _refigured(new: dict[str, Value], figure: Quantity, ears: Ears) -> str:
    if figure.unit in LENGTH_UNITS:
        length = in_cm(figure, ears.yard.units)
        field = next((name for name in ("depth_cm", "shoot_cm") if name in new), "depth_cm" if "temp_c" in new else "")
        if not field or length is None:
            return "That record has no length to put right."
        new[field] = round(length, 1)
        return ""
    field = next((name for name in _figures(figure.counted) if name in new), "")
    if not field:
        return "That record has no figure to put right."
    if field in ("temp_c", "min_c", "dew_point_c"):
        value = in_celsius(figure, ears.yard.units)
        if value is None:
            return f"{figure.text} is no temperature."
        new[field] = round(value, 2)
    elif field == "depth_cm":
        length = in_cm(figure, ears.yard.units)
        new[field] = round(length, 1) if length is not None else figure.value
    else:
        new[field] = int(figure.value) if field in ("leaves", "fruits") else figure.value
    return ""


def _figures(counted: str) -> Sequence[str]:
    return {"leaves": ("leaves",), "fruits": ("fruits",), "buds": ("node_buds",)}.get(counted, FIGURES)
