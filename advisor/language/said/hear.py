"""A message heard: its questions, what it tells as drafts of records, what is open, what is not to be recorded."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace

from advisor.language.said.drafts import Draft, Heard, Open
from advisor.language.said.forecasts import read_evening, read_forecast
from advisor.language.said.grounds import read_cover, read_move, read_new
from advisor.language.said.looks import read_look
from advisor.language.said.new_spots import more_of_spot
from advisor.language.said.pieces import LONGEST, Piece, as_sentences, sentences
from advisor.language.said.readings import asked_of_all, read_temperature
from advisor.language.said.shared import shared_times, speak_of_soil
from advisor.language.said.strange import others, strange_words, unknown_in_list
from advisor.language.said.trees import read_crop, read_growth, read_harm, read_stage, read_work
from advisor.language.said.unit import LENGTH_UNITS, Ears, Unit
from advisor.language.said.units import units_of
from advisor.language.said.whom import Result
from advisor.language.when import Said

Reader = Callable[[Unit, Ears, Sequence[Said]], Result]
READERS: Mapping[str, Reader] = {
    "new": read_new,
    "evening": read_evening,
    "forecast": read_forecast,
    "crop": read_crop,
    "look": read_look,
    "harm": read_harm,
    "move": read_move,
    "cover": read_cover,
    "work": read_work,
    "growth": read_growth,
    "stage": read_stage,
    "spot": more_of_spot,
}
ALONE = {"new", "evening", "forecast", "crop", "harm", "move", "cover", "look"}
"""Events that take a whole unit: what else is found in it belongs to them."""
TOGETHER = ("growth", "inspection", "crop")
CUT_OPEN = re.compile(
    r"(?=.*\b(?:brown|black|dead)\b).*\b\d+\s+(?:\w+\s+)?(?:flowers|blossoms|blooms)\b", re.IGNORECASE | re.DOTALL
)
FLOWERS = re.compile(r"(\b\d+)\s+(?:\w+\s+)?(?:flowers|blossoms|blooms)\b", re.IGNORECASE)
"""Flowers that were looked into for dead ones: counted as buds cut open are."""
INCHES_OF = re.compile(
    r"(\d)\s*in\s+(?=(?:of\s+)?(?:wood|bark|straw|hay|chips?|mulch|gravel|stones?|leaves|compost|sawdust|grass)\b)",
    re.IGNORECASE,
)
"""Inches of what lies on the ground, where inches are meant: "put 4 in wood chips on"."""
SHORT_SENTENCE = 5
FEWEST_ASKED = 3
NOT_RECORDED = ("heard", "wishes", "doubts", "not_done", "intends")


def hear(message: str, ears: Ears) -> Heard:
    """Return what a message says, nothing of it guessed.

    Talk of plans, of other people's gardens, of wishes, and of what was not done is noted and not recorded.
    """
    heard = Heard()
    text = as_sentences(message[:LONGEST])
    if CUT_OPEN.search(text):
        text = FLOWERS.sub(r"\1 buds", text)
    if ears.yard.us:
        text = INCHES_OF.sub(r"\1 inches ", text)
    heard.declined = ears.talk.first("declined", text)
    if heard.declined:
        return heard
    told = _run_on(sentences(text, ears.talk), text, ears)
    soil = any(ears.talk.has("ground", "soil", piece.text) for piece in told if not piece.asks)
    for piece in told:
        if piece.asks:
            heard.asks.append(piece.text)
            continue
        units = _hear_sentence(piece, ears, soil, heard)
        ears = _after(units, ears, heard)
    heard.open = asked_of_all(heard.open)
    heard.drafts = _once(_merged(list({_key(draft): draft for draft in heard.drafts}.values())), ears)
    if heard.drafts and not heard.open and _detail_apart(told, heard, ears):
        heard.drafts = []
        heard.open.append(Open("Where and how deep was each read? Put place, figure, depth and time in one sentence."))
    return heard


def _once(drafts: Sequence[Draft], ears: Ears) -> list[Draft]:
    """Return drafts without a work told again with no day: "fleece off last Sunday, it's unwrapped"."""
    today = ears.now.date()
    dated = {
        (d.values.get("plant"), d.values.get("what")) for d in drafts if d.kind == "work" and d.values["on"] != today
    }
    return [
        d
        for d in drafts
        if d.kind != "work" or d.values["on"] != today or (d.values.get("plant"), d.values.get("what")) not in dated
    ]


def _detail_apart(told: Sequence[Piece], heard: Heard, ears: Ears) -> bool:
    """Return whether a depth or an hour stands in a sentence that tells nothing, and a reading lacks it."""
    readings = [d for d in heard.drafts if d.kind == "soil_reading"]
    silent = [unit for piece in told if not piece.asks for unit in units_of(piece, ears) if not unit.events]
    depth = any(q.unit in LENGTH_UNITS for unit in silent for q in unit.quantities)
    hour = any(time.clock for unit in silent for time in unit.times)
    return (depth and any("depth_cm" not in d.values for d in readings)) or (
        hour and any(d.values["at"] == ears.now for d in readings)
    )


def _run_on(told: Sequence[Piece], text: str, ears: Ears) -> list[Piece]:
    """Return sentences with a short one put to the one before it, where either lacks what the other has: "Kaki. No sign
    of life.", "13.8 at the bank, 10 cm. Sunny."
    """
    found: list[Piece] = []
    for piece in told:
        last = found[-1] if found else None
        bare_ask = piece.asks and len(piece.text.split()) < FEWEST_ASKED
        if last and not last.asks and bare_ask and not any(unit.events for unit in units_of(last, ears)):
            found[-1] = Piece(f"{last.text}, {piece.text}", last.start, piece.end, asks=True)
            continue  # "the crooked fig is miles behind. how come?"
        short = len(piece.text.split()) <= SHORT_SENTENCE or bool(ears.talk.first("harm.extent", piece.text))
        if last and not last.asks and not piece.asks and short:
            here, before = units_of(piece, ears), units_of(last, ears)
            bare = not any(unit.own_mentions for unit in here)
            empty = bare and not any(set(unit.events) - {"temperature", "stage"} for unit in here)
            waits = not any(unit.events for unit in before) and any(unit.mentions for unit in before)
            hurt = any("harm" in unit.events for unit in before) and ears.talk.first("harm.extent", piece.text)
            if (bare and (waits or hurt)) or (
                empty and not any(unit.stages for unit in here) and any(unit.events for unit in before)
            ):
                gap = text[last.end : piece.start]
                joined = last.text + ("," + gap[1:] if gap else "") + piece.text
                found[-1] = Piece(joined, last.start, piece.end)
                continue
        found.append(piece)
    return found


def _after(units: Sequence[Unit], ears: Ears, heard: Heard) -> Ears:
    """Return the ears with what a sentence spoke of last, which "it" and "there" then mean."""
    plants = [name for unit in units for one in unit.plants() if one.sure for name in one.names]
    spots = [name for unit in units for one in unit.spots() if one.sure for name in one.names]
    if not plants and not spots:
        return ears
    there = spots or [plant.spot for name in plants if (plant := ears.yard.plant(name)) and plant.spot]
    heard.spoken_plants = tuple(dict.fromkeys(plants))
    yard = replace(
        ears.yard.moved(_goals(heard.drafts)),
        spoken_plants=heard.spoken_plants,
        spoken_spots=tuple(dict.fromkeys(there)),
    )
    return replace(ears, yard=yard)


def _goals(drafts: Sequence[Draft]) -> dict[str, str]:
    """Return to which spot drafts say that plants were moved."""
    return {str(d.values["plant"]): str(d.values["to_spot"]) for d in drafts if d.kind == "move"}


def _key(draft: Draft) -> tuple[object, ...]:
    return (draft.kind, draft.replaces, *sorted((name, str(value)) for name, value in draft.values.items()))


def _merged(drafts: Sequence[Draft]) -> list[Draft]:
    """Return drafts with those of one plant's growth, looks or crop on one day put together where they do not clash."""
    found: list[Draft] = []
    for draft in drafts:
        last = found[-1] if found else None
        own = set(draft.values) - {"plant", "on"}
        if last and last.kind == draft.kind and draft.kind in TOGETHER and _can_join(last, draft, own):
            found[-1] = Draft(draft.kind, {**last.values, **draft.values})
        else:
            found.append(draft)
    return found


def _can_join(one: Draft, other: Draft, own: set[str]) -> bool:
    return all(one.values.get(key) == other.values.get(key) for key in ("plant", "on")) and not own & set(one.values)


def _hear_sentence(piece: Piece, ears: Ears, soil: bool, heard: Heard) -> list[Unit]:
    """Read one sentence into what was heard, and return its units."""
    units = units_of(piece, ears)
    shared = shared_times(piece, units, ears)
    soil = soil or speak_of_soil(units, ears)
    sorts = _sorts(piece, units, ears)
    for unit, sort in zip(units, sorts, strict=True):
        either = any(not one.sure and one.names for one in unit.mentions)
        if sort and not (unit.events or unit.mentions or ears.talk.has("known", "parts", unit.told)):
            heard.unread.append(unit.text)  # "football on the telly": nothing of the garden is in it
        elif sort and not (sort == "doubts" and either and unit.events):
            heard.noted.append(sort)
        elif not unit.events:
            heard.unread.append(unit.text)
        else:
            doubt = _open_in(unit, ears)
            if doubt is not None:
                heard.open.append(doubt)
                continue
            for event in _to_read(unit):
                result = _read(event, unit, ears, shared, soil)
                ears = replace(ears, yard=ears.yard.moved(_goals(result.drafts)))
                heard.drafts += result.drafts
                heard.open += result.open
                heard.beside += result.beside
                if result.drafts and not result.open and (missing := unknown_in_list(unit, ears)):
                    heard.open.append(
                        Open(f"I know no {missing!r} in this garden, so nothing is recorded of it.", aside=True)
                    )
            if "stage" in unit.events and unit.stages and all(one.negated for one in unit.stages):
                heard.noted.append("not_done")
    return units


def _open_in(unit: Unit, ears: Ears) -> Open | None:
    """Return what keeps a unit from being logged as it stands: an "or", no real date, a figure with no meaning."""
    text = unit.told
    rest = REST.search(text) if unit.inherited and unit.plants() else None
    if rest and set(unit.events) <= {"stage", "look", "growth", "work"}:
        return Open(f"Which plants are meant by {rest[0]!r}? Say them by name.")
    if OR.search(text) and all(one.sure for one in unit.mentions):
        return Open(f"Which of the two is it: {text!r}?")
    if _no_real_date(unit):
        return Open(f"Which day is meant in {text!r}?")
    plain = {"work", "stage", "move", "harm", "cover", "look"}
    if set(unit.events) <= plain:
        loose = [
            q for q in unit.quantities if not q.unit and (not q.counted or q.counted in ("days", "weeks", "months"))
        ]
        loose = [q for q in loose if not (q.counted == "" and "look" in unit.events)]
        if loose and not AMOUNT.match(text[text.find(loose[0].text) + len(loose[0].text) :]):
            return Open(f"What does {loose[0].text!r} mean there?")
    stray = strange_words(unit, ears) if unit.inherited and "temperature" in unit.events else []
    if stray:
        return Open(f"Where was that read? I know nothing called {' '.join(stray)!r}.")
    owner = others(unit, ears)
    return Open(f"Is that in your own garden? I read {owner!r}; tell me again without it if so.") if owner else None


def _no_real_date(unit: Unit) -> bool:
    """Return whether a day and month are told that no time was read from: "on 40 March", "12.3."."""
    for piece in unit.pieces:
        for found in NO_DATE.finditer(piece.text):
            at = found.start() + piece.start
            dated = any(time.start <= at < time.end for time in unit.times)
            measured = any(q.start <= at < q.end and (q.unit or q.degrees) for q in unit.quantities)
            if not dated and not measured and not MEASURED & set(unit.events):
                return True
    return False


AMOUNT = re.compile(
    r"\s*(?:\w+\s+)?(?:cans?|buckets?|litres?|liters?|gallons?|jugs?|scoops?|handfuls?|spoons?|barrows?)\b",
    re.IGNORECASE,
)
MEASURED = frozenset(("temperature", "evening", "forecast", "growth"))
REST = re.compile(r"\b(?:the |all the )(?:rest|others|other ones|remaining ones)\b", re.IGNORECASE)
OR = re.compile(r"\bor\b(?!\s+(?:so|less|more)\b)", re.IGNORECASE)
MONTH = (
    r"(?:jan(?:uary)?|feb(?:ruary)?|mar(?:ch)?|apr(?:il)?|may|june?|july?|aug(?:ust)?|sept?(?:ember)?|oct(?:ober)?"
    r"|nov(?:ember)?|dec(?:ember)?)"
)
NO_DATE = re.compile(
    rf"\b\d{{1,2}}(?:st|nd|rd|th)?\s+(?:of\s+)?{MONTH}\b|\b\d{{1,2}}\.\d{{1,2}}\b(?!\s*[a-z°%])", re.IGNORECASE
)


def _sorts(piece: Piece, units: Sequence[Unit], ears: Ears) -> list[str]:
    """Return for each unit why it is not to be recorded, "" where it is.

    A plan, hearsay, a wish or a doubt holds from where it is said to the end of the sentence, a doubt at the end for
    all of it; what was not done is said of its own unit only.
    """
    own = [_sort_of(unit.text, ears, unit) for unit in units]
    if len(units) == 1:
        deed = DEED.search(piece.text)  # "I was going to wait, but I pinched it"
        after = deed is not None and all(one.start >= piece.start + deed.end() for one in units[0].mentions)
        return [_sort_of(piece.text[deed.end() :] if deed and after else piece.text, ears, units[0])]
    if own and own[-1] == "doubts" and not (WEATHER.search(units[-1].told) and not units[-1].own_mentions):
        return ["doubts"] * len(units)
    if "heard" in own and SAYS.search(piece.text):
        return ["heard"] * len(units)
    found: list[str] = []
    holds = ""
    for unit, sort in zip(units, own, strict=True):
        if holds == "intends" and BUT.search(piece.text[: unit.start - piece.start]):
            holds = ""  # "I was going to wait, but I pinched it"
        holds = sort if sort and sort != "not_done" else holds
        found.append(sort or holds)
    return found


WEATHER = re.compile(r"\b(?:cold|frost|freeze|freezing|rain|wind|storm|snow|hot|warm)\b", re.IGNORECASE)
REASON = re.compile(r",\s*(?:for|because|as|since)\s+(?:i|we|it|the|there)\b[^,;]*$", re.IGNORECASE)
"""Why something was done, which says nothing of whether it was: ", for I do not trust the sky"."""
SAYS = re.compile(r"\b(?:said|says|told me|tells me|wrote|writes)\b", re.IGNORECASE)
DEED = re.compile(r"\bbut\s+(?=(?:i|we|i['’]ve|we['’]ve|my \w+)\b)", re.IGNORECASE)
BUT = re.compile(r"\bbut\s+$", re.IGNORECASE)


def _sort_of(text: str, ears: Ears, unit: Unit) -> str:
    """Return why a stretch is not to be recorded, "" where it is."""
    text = REASON.sub("", text)
    events = set(unit.events)
    forecast = bool(events) and events <= {"forecast"}
    for sort in NOT_RECORDED:
        if not ears.talk.has("sorts", sort, text):
            continue
        if forecast and sort in ("intends", "not_done", "heard"):
            continue
        if (
            sort == "not_done"
            and events
            and events <= {"stage", "look", "temperature", "harm"}
            and "stage" not in events
            and not ears.talk.has("harm", "none", text)
        ):
            continue  # "no gnawing" and "not gnawed" are looks
        if sort == "not_done" and events <= {"stage"} and unit.stages and not ears.talk.has("sorts", "not_seen", text):
            continue  # what is not there yet is the stage's own matter
        if sort == "intends" and events <= {"stage"} and any(one.hedged for one in unit.stages):
            continue
        return sort
    to_come = [time for time in unit.times if time.to_come and time.part not in ("night", "evening")]
    return "intends" if to_come and not events else ""


def _to_read(unit: Unit) -> list[str]:
    first = unit.events[0]
    if first in ALONE:
        return [first]
    return unit.events


def _read(event: str, unit: Unit, ears: Ears, shared: Sequence[Said], soil: bool) -> Result:
    if event == "temperature":
        return read_temperature(unit, ears, shared, soil)
    return READERS[event](unit, ears, shared)
