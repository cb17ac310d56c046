"""Which times of day a text tells: by the clock, or as a part of the day. A number needs proof to be a time."""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence

from advisor.language.when_words import COUNT, COUNTED, MONTH, NAMED, PART, UNIT, WEEKDAY, Piece, Scene

Reader = Callable[[re.Match[str], Scene], Piece | None]
_MEASURED = re.compile(
    r"\b(?:soil|ground|earth|air|temps?|temperatures?|mulch|chips|straw|compost|probe|thermometer|reads?|reading|degrees?"
    r"|dew|min|max|low|high|[0-9.]+\s*[cf])\b|°"
)
_DEPTH = re.compile(r"[0-9]\s*(?:cms?|mm|inch|inches|in|\"|″)(?![a-z])|\b(?:deep|depth)\b")
_DONE = re.compile(
    r"\b(?:watered|pinched|pruned|fed|moved|brought|took|taken|put|picked|planted|potted|repotted|grafted|wrapped"
    r"|unwrapped|checked|looked|saw|seen|dug|raked|mulched|cut|scratched|found|opened|closed|covered|uncovered|measured"
    r"|frost|started|finished|woke|fertili[sz]ed|manured|weighed)\b"
)
_DAY_WORD = rf"(?:yesterday|today|tomorrow|tonight|night|{PART}|{WEEKDAY})"
_DAY_BEFORE = re.compile(
    rf"\b{_DAY_WORD},?\s+$|\b[0-9]{{1,2}}(?:st|nd|rd|th|/[0-9]{{1,2}}|\.[0-9]{{1,2}}\.|[-/.][0-9]{{1,2}}[-/.][0-9]{{2,4}})\s+$"
    rf"|[0-9]\s+{MONTH}\s+$|\b{MONTH}\s+[0-9]{{1,2}}\s+$|-[0-9]{{2}}\s+$"
)
_DAY_AFTER = re.compile(
    rf",?\s+(?:in\s+the\s+{PART}|at\s+night|this\s+{PART}|last\s+night|on\s+{WEEKDAY}|last\s+{WEEKDAY}|{_DAY_WORD})"
)
_LIST = re.compile(r"\s*(?:and|or|to|-|–|,|/|x|&)\s*[-+]?[0-9]")
_GOES_ON = re.compile(
    r"\s*(?:$|[;!?\n)]|[,.:](?![0-9])|[-–]\s)|\s+(?:today|yesterday|when|with|in\s+the|on|and|it|was|is|i|we|the|soil|air|this"
    r"|last|but|then|by|for|from|after|before|while|sunny|sun|shade|cloud|cloudy|all|my|to|because|as|under|at)\b"
)
_SPAN_OF = re.compile(
    r"(?:[0-9]|\b(?:one|two|three|four|five|six|seven|eight|nine|ten|eleven))\s*(?:-|–|to|and|or)\s*$"
)
_LASTS = re.compile(r"\b(?:for|after|every|per|over|only|least|about|around|another|total|chill|within|gets?|of)\s+$")
_LASTS_AFTER = re.compile(
    r"\s*(?:of|below|above|under|over|sun|light|shade|chill|frost|a\s+day|per|later|long|so\s+far|ago)\b"
)
_HOUR = "|".join(word for word in COUNT if len(word) > 2)
_AIM = r"(?:(?:\bat|\bby|\baround|\babout|\bca|@)\s*(?:about\s+|around\s+)?)?"


def _hour(text: str) -> int:
    return int(text) if text.isdigit() else COUNT[text]


def _halved(m: re.Match[str], scene: Scene) -> Piece | None:
    """Return a time with am or pm."""
    hour, before = int(m[1]), scene.before(m.start(1))
    if not 1 <= hour <= 23 or (hour > 12 and m[3][0] == "a") or re.search(r"(?<![0-9])\s*[-−+]$", before):
        return None
    unclear = "which of the hours it was" if _SPAN_OF.search(before) else ""
    if m.start() == m.start(1) and NAMED.search(before) and re.match(r"\s", scene.text[m.end(1) :]) and not m[2]:
        unclear = f"whether {m[1]} is a name's number or an hour"
    apart = m.start() == m.start(1) and not m[2] and re.match(r"\s", scene.text[m.end(1) :])
    measured = re.search(r"\b(?:soil|air|ground|mulch|chips|bed|temp|is|was)\s+$", before)
    if apart and measured and not re.search(r"[0-9]", scene.around(*m.span())):
        unclear = f"whether {m[1]} is an hour or a reading"
    half = "24" if hour > 12 else m[3][0] + "m"
    return Piece(m.start(), m.end(), hour=hour, minute=int(m[2] or 0), half=half, unclear=unclear)


def _colon(m: re.Match[str], scene: Scene) -> Piece | None:
    hour = int(m[1])
    if hour > 24 or (hour == 24 and m[2] != "00"):
        return None
    if m[3] and not re.search(r"[0-9]t?\s*$", scene.before(m.start(1))):
        return None  # "10:10:10" stands on a bag of fertiliser
    unclear = "which of the times it was" if _SPAN_OF.search(scene.before(m.start(1))) else ""
    if hour == 24:
        return Piece(m.start(), m.end(), hour=0, half="midnight", unclear=unclear)
    if re.match(r"\s*(?:z|utc|gmt|[-+][0-9]{2}:?[0-9]{2})\b", scene.after(m.end())):
        unclear = "whether that is the time of this place"
    dated = re.search(r"[0-9]{4}-[0-9]{1,2}-[0-9]{1,2}t?\s*$", scene.before(m.start(1)))
    told = "24" if dated or hour > 12 or hour == 0 or m[1][0] == "0" else ""
    return Piece(m.start(), m.end(), hour=hour, minute=int(m[2]), half=told, unclear=unclear)


def _hours(m: re.Match[str], scene: Scene) -> Piece | None:
    """Return "15h", "15h30", "1530 hrs" or "at 1530", and not what lasts so many hours."""
    aimed = m[0].startswith(("at", "@", "by"))
    if m[1]:
        hour, minute = int(m[1]), int(m[2] or 0)
        sure = aimed or m[2] or m[1][0] == "0" or hour >= 13
        if not sure or (
            re.match(r"\s*(?!$|[.,;:!?\n)]|yesterday|today|this|last|on\b)", scene.after(m.end())) and not aimed
        ):
            return None
    elif m[3]:
        hour, minute = int(m[3]), int(m[4])
        if not m[5] and (not aimed or (hour in (19, 20, 21) and minute not in (0, 15, 30, 45))):
            return None
        if (
            m[5]
            and not (aimed or m[3][0] == "0")
            and re.search(r"\b(?:chill\w*|cold|sun|light|frost)\b", scene.around(*m.span()))
        ):
            return None
    if not hour <= 23 or _LASTS.search(scene.before(m.start())) or _LASTS_AFTER.match(scene.after(m.end())):
        return None
    return Piece(m.start(), m.end(), hour=hour, minute=minute, half="24")


_MINUTES = {"half": 30, "quarter": 15, "a quarter": 15, "five": 5, "ten": 10, "twenty": 20, "twenty five": 25,
            "twenty-five": 25}  # fmt: skip


def _spoken(m: re.Match[str], scene: Scene) -> Piece | None:
    """Return "half past two", "quarter to nine"; "ten to three" is too often a range to be taken."""
    words, side, hour = m[1], m[2], _hour(m[3])
    minutes = int(words) if words.isdigit() else _MINUTES[words]
    if not 1 <= hour <= 12 or minutes >= 60 or _hindered(m, scene):
        return None
    if side == "to":
        if "quarter" not in words:
            return None
        hour, minutes = (hour - 2) % 12 + 1, 60 - minutes
    return Piece(m.start(), m.end(), hour=hour, minute=minutes)


def _hindered(m: re.Match[str], scene: Scene) -> bool:
    return re.match(rf"(?:{UNIT}|{COUNTED})", scene.after(m.end())) is not None


def _named(m: re.Match[str], scene: Scene) -> Piece | None:
    if re.match(r"\s+(?:sun|shade|light|heat)\b", scene.after(m.end())) and not re.search(
        r"\bin\s+(?:the\s+)?$", scene.before(m.start())
    ):
        return None
    if m[1] == "midnight":
        return Piece(m.start(), m.end(), hour=0, half="midnight")
    return Piece(m.start(), m.end(), hour=12, half="24", part="midday")


def _o_clock(m: re.Match[str], scene: Scene) -> Piece | None:
    hour = _hour(m[1])
    if 13 <= hour <= 23:
        return Piece(m.start(), m.end(), hour=hour, half="24")
    return Piece(m.start(), m.end(), hour=hour) if 1 <= hour <= 12 else None


def _rough(m: re.Match[str], scene: Scene) -> Piece | None:
    """Return "about 3 in the afternoon", which no "at" goes before."""
    hour = _hour(m[1])
    return Piece(m.start(), m.end(), hour=hour) if 1 <= hour <= 12 else None


def _bare(m: re.Match[str], scene: Scene) -> Piece | None:
    """Return "at 3" where it can be nothing but a time, unclear where it could be a depth or a reading."""
    hour, minute = _hour(m[1]), int(m[2] or 0)
    after, before = scene.after(m.end()), scene.before(m.start())
    if (not 1 <= hour <= 12 and not (m[2] and hour <= 23)) or minute > 59 or _hindered(m, scene):
        return None
    if _LIST.match(after) or re.search(r"\b(?:up|down)\s+$", before):
        return None
    piece = Piece(m.start(), m.end(), hour=hour, minute=minute, half="24" if hour > 12 else "")
    if m[3]:
        return piece
    beside = _DAY_BEFORE.search(before) or _DAY_AFTER.match(after)
    if not beside and not _GOES_ON.match(after):
        return None
    around = scene.around(*m.span())
    numbers = re.findall(r"(?<![\w/])[-−+]?[0-9]+(?:\.[0-9]+)?(?![0-9]*(?:st|nd|rd|th)\b)", around)
    measured = _MEASURED.search(around)
    if _DEPTH.search(around) or (beside and (numbers or not measured)) or (_DONE.search(around) and not measured):
        return piece
    alone = not re.search(r"[a-z0-9]", around) or (m[2] in ("00", "15", "30", "45") and not numbers)
    if alone and not measured:
        return piece
    if measured and not numbers:
        return None  # "soil at 3" tells the soil
    return Piece(
        m.start(), m.end(), hour=hour, minute=minute, unclear=f"whether {m[1]} is an hour or something measured"
    )


def _beside_a_day(m: re.Match[str], scene: Scene) -> Piece | None:
    """Return "3.30" or "3:30" of "yesterday 3.30"; a number with a point is no time elsewhere."""
    if not 1 <= int(m[1]) <= 23 or _hindered(m, scene):
        return None
    if not (_DAY_BEFORE.search(scene.before(m.start())) or _DAY_AFTER.match(scene.after(m.end()))):
        return None
    if _MEASURED.search(scene.around(*m.span())) and not re.search(r"[0-9]", scene.around(*m.span())):
        return None
    return Piece(m.start(), m.end(), hour=int(m[1]), minute=int(m[2]), half="24" if int(m[1]) > 12 else "")


def _first_thing(m: re.Match[str], scene: Scene) -> Piece | None:
    if re.search(r"\b(?:the|my|only|every|our|a)\s+$", scene.before(m.start())):
        return None
    if re.match(r"\s+(?:i|we|you|to|that|is|was|it|they|which)\b", scene.after(m.end())):
        return None
    return Piece(m.start(), m.end(), part="morning")


def _small_hours(m: re.Match[str], scene: Scene) -> Piece | None:
    return Piece(m.start(), m.end(), part="night", unclear=f"at which hour {scene.typed(*m.span())} were")


def _sunlit(m: re.Match[str], scene: Scene) -> Piece | None:
    """Return a part of the day told by the sun or by a meal."""
    word = re.split(r"\s", m[0])[-1]
    if word in ("lunch", "lunchtime", "dinnertime"):
        part = {"before": "morning", "after": "afternoon"}.get(m[0].split()[0], "midday")
    else:
        part = (
            "evening" if word in ("dusk", "sunset", "sundown", "nightfall", "supper", "tea", "teatime") else "morning"
        )
    return Piece(m.start(), m.end(), part=part)


def _part(m: re.Match[str], scene: Scene) -> Piece | None:
    """Return a part of the day named by itself, and neither a greeting nor the sun that a bed gets."""
    inside, part = m[1], m[2]
    before, after = scene.before(m.start()), scene.after(m.end())
    if part == "night":
        return (
            Piece(m.start(), m.end(), part="night", loose="which night is meant")
            if after.startswith(" of the ")
            else None
        )
    if re.search(r"\b(?:good|by|until|till?|before|lovely|nice|happy|mid)\s+(?:the\s+)?$", before):
        return None
    if re.search(r"\b(?:next|following|other|that|same)\s+$", before) or re.match(r"\s+after\b", after):
        return Piece(m.start(), m.end(), part=part, loose=f"which {part} is meant")
    if not inside:
        if re.match(r"\s*-?\s*(?:sun|shade|light|glor(?:y|ies)|dew|star|primrose|all|everyone|folks|only)\b", after):
            return None
        greeting = not before.strip() and part != "evening" and re.match(r"\s*(?:[!.,]|$)", after)
        now_is = "morning" if scene.now.hour < 12 else "afternoon" if scene.now.hour < 18 else "evening"
        if greeting or (not before.strip() and m.start() < 3 and now_is == part):
            return None
    loose = "whether this morning or tomorrow's is meant" if inside and part == "morning" else ""
    return Piece(m.start(), m.end(), part=part, loose=loose)


CLOCKS: Sequence[tuple[re.Pattern[str], Reader]] = [
    (re.compile(pattern), reader)
    for pattern, reader in (
        (rf"{_AIM}(?<![\w.:/,])([0-9]{{1,2}})(?:[:.]([0-5][0-9]))?\s*([ap]\.m\.|[ap]\s?m\b)(?:-?ish\b)?", _halved),
        (
            rf"{_AIM}(?:(?<![\w.:/,])|(?<=[0-9]t)|(?<=[0-9]T))([0-9]{{1,2}}):([0-5][0-9])(:[0-5][0-9])?(?![\w:.,]*[0-9])"
            rf"(?!{UNIT}|{COUNTED})(?:\s*(?:hrs?|h)\b)?",
            _colon,
        ),
        (
            rf"{_AIM}(?<![\w.:/,-])(?:([0-9]{{1,2}})\s?h(?:rs)?([0-5][0-9])?\b|([0-2][0-9])[.:]?([0-5][0-9])(?:\s*(h(?:(?:ou)?rs)?\b)"
            rf"|(?![\w./:-]|{UNIT}|{COUNTED})))",
            _hours,
        ),
        (
            rf"{_AIM}(?<![\w-])(half|(?:a\s)?quarter|five|ten|twenty(?:[\s-]five)?|[1-5]?[05])\s+(past|to)\s+((?:{_HOUR})\b|1?[0-9]\b)",
            _spoken,
        ),
        (rf"{_AIM}(?:12\s+)?\b(noon|midday|mid-day|midnight)\b", _named),
        (rf"{_AIM}(?<![\w.:/-])((?:{_HOUR})\b|[0-9]{{1,2}})\s?o\s?['’]?\s?clock\b", _o_clock),
        (
            rf"(?:\bat|@)\s*(?:about\s+|around\s+)?(?<![\w-])((?:{_HOUR})\b|[0-9]{{1,2}})(?:\.([0-5][0-9]))?(-?ish\b)?(?![\w:/%]|[.,][0-9])",
            _bare,
        ),
        (rf"\b(?:around|about)\s+((?:{_HOUR})\b|[0-9]{{1,2}})(?=\s+(?:in\s+the\s+{PART}|at\s+night))", _rough),
        (r"(?<![\w.:/,-])([0-9]{1,2})\.(00|15|30|45)(?![\w:/%]|[.,][0-9])", _beside_a_day),
        (r"\bfirst\s+thing\b", _first_thing),
        (r"\b(?:in\s+)?the\s+(?:early|small|wee)\s+hours\b", _small_hours),
        (
            r"\b(?:at|before|after|around|about)\s+(?:dawn|daybreak|sunrise|sun-?up|first\s+light|breakfast|dusk|sunset|sundown"
            r"|nightfall|supper|tea|teatime|lunch|lunchtime|dinnertime)\b",
            _sunlit,
        ),
        (rf"(?:\b(in)\s+(?:the\s+)?)?\b(?:(?:early|late|mid)[\s-]+)?\b({PART[:-2]}|night)\b(?!s)", _part),
    )
]
"""The shapes of times of day, in the order in which they claim their words."""
