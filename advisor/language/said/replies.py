"""Replies to what was told: said back in full, asked back with numbered ways, noted, declined, taken back."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from advisor.facts import Value
from advisor.language.bounds import joined_left_out
from advisor.language.render import Speech
from advisor.language.said.drafts import Open
from advisor.language.said.said_back import all_said_back
from advisor.language.text_message import shortened

NOTED = {
    "intends": "That is a plan, so nothing is recorded yet; tell me when it is done.",
    "heard": "That is of somebody else's garden or from hearsay, so it is not recorded as yours.",
    "not_done": "That tells what is not so, or not done, so there is nothing to record.",
    "wishes": "That is a wish, so nothing is recorded.",
    "doubts": "You are not sure of it, so nothing is recorded; tell me once you are.",
}
DECLINED = {
    "spray": "Sprays and doses are not for me: the label is the law where you are. Ask your plant protection service "
    "or a licensed adviser, and say which crop and which trouble.",
    "medical": "That is a matter for a doctor, a vet or a poison centre: call them now if someone is unwell.",
    "wiring": "Wiring is not for me: water and electricity together kill. Ask a licensed electrician, by your local "
    "code.",
    "felling": "Felling and saw work is not for me: ask a trained tree worker, and your town about protected trees.",
    "ladder": "Ladder work is not for me: many are hurt so every year. Work from the ground, or ask a trained tree "
    "worker.",
    "fire": "Heaters and flames under cover are not for me: fire and fumes kill. Ask the maker and your fire service, "
    "and never sleep beside one or leave it alone.",
}


CANNOT = {
    "humidity": "Humidity I do not keep. The dew point tells more of a night: two hours after sunset say evening 5.8, "
    "dew point 0.4.",
    "rain": "Rain, snow and hail I do not keep from a message: rain comes with a file of daily weather. If it hurt a "
    "tree, say which and how far.",
    "removed": "That a plant is gone I cannot take from a message: take its row out of use under Records. If it died, "
    "say so, as in: the new fig is dead.",
    "hardiness": "What cold a kind stands through a winter I do not tell: ask the nursery, since it hangs on the sort "
    "and on how the wood ripened. A night I can weigh: will it freeze tonight? And what it did: did the frost hurt "
    "{plant}?",
    "alerts": "I write only when I am asked. In the weeks of frost ask each afternoon: will it freeze tonight?",
    "deleting": "From a message I take back only what was just told: say undo. Other rows are taken out of use under "
    "Records.",
    "frost_seen": "Frost seen on glass, grass or a roof I do not keep. Tell me the low where you know it, as in: low "
    "-1.5 at the hollow this morning. If it hurt a tree, say which and how far.",
    "own_years": "A plant beside its own last year I do not set out. Its dates of each year stand in its records: show "
    "me the records of {plant}.",
    "bloom_frost": "Which of your trees bloom before the last frost I do not list. Bloom is set against frost where a "
    "place is sought: where would an apricot do best? The frost itself: when is the last frost here?",
    "planting": "When in the year to plant I have no rule for: ask the nursery it comes from. Where it would belong I "
    "can weigh: where do I put a new pear?",
}
"""What is understood and has neither record nor rule, and what is nearest; who else to ask where it was asked."""
ASKED = frozenset(("planting", "own_years", "bloom_frost", "hardiness", "alerts", "deleting"))


def cannot_reply(what: str, plant: str = "the wall fig") -> dict[str, Any]:
    """Return that something is beyond the records and rules there are: declined if it was asked, else only noted.

    ``plant`` is one that was named, or an example.
    """
    text = CANNOT[what].format(plant=plant)
    if what in ASKED:
        return sentence_reply("declined", text)
    return sentence_reply("noted", f"{text} Your words are kept.")


def sentence_reply(outcome: str, text: str) -> dict[str, Any]:
    """Return a reply that is only words."""
    return {
        "outcome": outcome, "reply": text, "short": shortened(text), "question": {}, "conclusions": [], "because": [],
        "records": [], "recorded": [], "lacking": [], "cautions": [], "choices": [],
    }  # fmt: skip


def recorded_reply(
    rows: Sequence[tuple[str, int]],
    values: Sequence[tuple[str, Mapping[str, Value]]],
    speech: Speech,
    *,
    corrected: bool = False,
) -> dict[str, Any]:
    """Return what was recorded, said back in full, with the way to take it back."""
    head = "Put right:" if corrected else "Recorded:"
    text = f"{head}\n{all_said_back(list(values), speech)}\nSay undo to take it back."
    recorded = [{"kind": kind, "id": row} for kind, row in rows]
    return {**sentence_reply("recorded", text), "recorded": recorded, "records": recorded}


def undone_reply(values: Sequence[tuple[str, Mapping[str, Value]]], speech: Speech) -> dict[str, Any]:
    """Return what was taken back."""
    return sentence_reply("undone", f"Taken back, and out of use:\n{all_said_back(list(values), speech)}")


NOTHING_YET = "Your words are kept; nothing of this is recorded until it is clear."
NOTHING_MORE = "Your words are kept; nothing more is recorded until it is clear."


def asked_back(opened: Sequence[Open], text: str) -> dict[str, Any]:
    """Return the first open question with its numbered ways; the others are named to be sent again."""
    first = opened[0]
    lines = [first.ask]
    lines += [f"{number}. {way.text}" for number, way in enumerate(first.ways, start=1)]
    if first.ways:
        lines.append("Answer with the number, or with the name of another.")
    if len(opened) > 1:
        lines.append(f"And then: {opened[1].ask}")
    if not first.aside:
        lines.append(NOTHING_YET)
    choices = [
        {"number": number, "text": way.text, "means": {"log": [draft.as_dict() for draft in way.drafts]}}
        for number, way in enumerate(first.ways, start=1)
    ]
    return {**sentence_reply("asked-back", "\n".join(lines)), "choices": choices}


def noted_reply(why: str) -> dict[str, Any]:
    """Return that something was read and rightly not recorded, and why."""
    return sentence_reply("noted", f"{NOTED[why]} Your words are kept.")


def declined_reply(what: str) -> dict[str, Any]:
    """Return that something is not for this adviser, and who to ask."""
    return sentence_reply("declined", DECLINED[what])


ORDER = ("asked-back", "answered", "recorded", "undone", "noted", "declined", "not-understood", "gave-up")
"""What a message with several parts counts as: the first of these that one of its parts is."""


def joined(parts: Sequence[dict[str, Any]]) -> dict[str, Any]:
    """Return the replies to the parts of one message as one."""
    parts = [part for place, part in enumerate(parts) if part["reply"] not in [one["reply"] for one in parts[:place]]]
    if len(parts) == 1:
        return parts[0]
    outcomes = [part["outcome"] for part in parts]
    texts = [part["reply"] for part in parts]
    if "recorded" in outcomes:
        texts = [text.replace(NOTHING_YET, NOTHING_MORE) for text in texts]
    outcome = next((one for one in ORDER if one in outcomes), outcomes[0])
    leading = next((part for part in parts if part["outcome"] == "answered"), parts[-1])
    made: dict[str, Any] = {**leading, "outcome": outcome, "reply": "\n\n".join(texts)}
    for name in ("recorded", "records", "because", "lacking", "cautions"):
        made[name] = [one for part in parts for one in part.get(name, [])]
    for name in ("disputes", "state", "weighed"):
        if any(name in part for part in parts):
            made[name] = [one for part in parts for one in part.get(name, [])]
    if any("spots" in part for part in parts):
        made["spots"] = _spots(parts)
    made["conclusions"] = _conclusions(parts)
    made.pop("left_out", None)
    made |= joined_left_out(parts)
    made["choices"] = next((part["choices"] for part in parts if part.get("choices")), [])
    made["short"] = shortened(" ".join(part["short"] for part in parts))
    return made


def _conclusions(parts: Sequence[Mapping[str, Any]]) -> list[dict[str, Any]]:
    """Return the conclusions of all parts: reasons by their places in the joined list, ranks after those before."""
    found: list[dict[str, Any]] = []
    reasons = ranks = 0
    for part in parts:
        for one in part.get("conclusions", []):
            places = [reasons + place for place in one["because"]]
            found.append({**one, "rank": ranks + one["rank"], "because": places})
        reasons += len(part.get("because", []))
        ranks = max((one["rank"] for one in found), default=0)
    return found


def _spots(parts: Sequence[Mapping[str, Any]]) -> list[dict[str, Any]]:
    """Return how spots fare in the answers of all parts; where several weigh spots, each with the tree it is for."""
    weighing = [part for part in parts if part.get("spots")]
    if len(weighing) < 2:
        return [dict(one) for part in weighing for one in part["spots"]]
    found = []
    for part in weighing:
        whom = {name: part["question"][name] for name in ("species", "plant") if part["question"].get(name)}
        found += [{**whom, **one} for one in part["spots"]]
    return found
