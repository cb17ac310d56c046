"""The digits in a message that measure nothing: of names, of numbers given to things, of dates and of times."""

from __future__ import annotations

import re
from collections.abc import Sequence
from functools import lru_cache

from advisor.language.quantity_words import (
    BLANK,
    COUNTED,
    DEGREES,
    SLASH,
    SMALL,
    SPACE,
    STAGE_NOUN,
    TEENS,
    UNIT,
    WORD_VALUES,
    compiled,
    either_of,
)

_DATE_OR_TIME = compiled(
    rf"""(?<![0-9])(?:
      [0-9]{{4}}[-/.][0-9]{{1,2}}[-/.][0-9]{{1,2}}(?:t[0-9:]+)?
    | (?![0-9]{{1,3}}-{SLASH}(?![0-9/.-]))[0-9]+(?:[-/.:–][0-9]+){{2,}}\.?
    | [0-9]{{1,2}}(?:{SPACE}?-{SPACE}?[0-9]{{1,2}})?(?:[.:][0-9]{{2}})?{SPACE}?[ap]\.?m(?![a-z])\.?
    | [0-9]{{1,2}}:[0-9]{{2}}
    | [0-9]{{1,2}}h[0-9]{{2}}
    | [0-9]+(?:st|nd|rd|th)(?![a-z])
    | (?:[1-9]|[12][0-9]|3[01])\.(?:0?[1-9]|1[0-2])\.(?![0-9.])
    | (?:half|quarter|[0-9]{{1,2}}|{either_of(list(TEENS))}|five|twenty)\ past\ (?:[0-9]{{1,2}}|{SMALL})(?![a-z0-9])
    | quarter\ to\ (?:[0-9]{{1,2}}|{SMALL})(?![a-z0-9])
    | (?<=at\x20)(?:[0-9]{{1,2}}|{SMALL})\ (?:in\ the\ (?:morning|afternoon|evening)|at\ night)(?![a-z])
    | (?<=['’])(?<![0-9]['’])[0-9]{{2}}(?![0-9])
    | [0-9]{{1,3}}(?:{SPACE}[0-9]{{3}})+(?![0-9])(?!\.[0-9])
    | [0-9]+\.{{2,}}[0-9]+
    )"""
)
_SIGNED = re.compile(r"(?:\A|[ \t(])[-+−–]\Z")
_LABELLED = compiled(
    rf"""(?<![a-z])(?:no|nr|nos|number|week|wk|zone|usda|bbch|stage|version|question|option|choice|row|day|year)
    (?:\.?:?{SPACE}{{0,2}}|-)(?P<label>[0-9]+[ab]?(?![.,]?[0-9])|(?:{SMALL}))(?![a-z])
    |\#{SPACE}?(?P<hash>[0-9]+)"""
)


def blanked(text: str, names: Sequence[str] = ()) -> str:
    """Return a text of the same length, with the digits of names, numbers given to things, dates and times blanked.

    >>> blanked("pot 3 at 18:30, 12.5", ["pot 3"]).replace(BLANK, "_")
    'pot _ at _____, 12.5'
    """
    patterns = _of_names(tuple(names))
    for pattern in patterns:
        text = pattern.sub(lambda found: re.sub(_NUMERAL, _blank, found[0]), text)
    text = _LABELLED.sub(_blank_label, text)
    return _DATE_OR_TIME.sub(lambda found: found[0] if _is_signed(found) else BLANK * len(found[0]), text)


_NUMERAL = compiled(rf"[0-9]+|(?<![a-z])(?:{SMALL})(?![a-z])")


def _blank(found: re.Match[str]) -> str:
    return BLANK * len(found[0])


def _blank_label(found: re.Match[str]) -> str:
    number = found["label"] or found["hash"]
    return found[0][: -len(number)] + BLANK * len(number)


def _is_signed(found: re.Match[str]) -> bool:
    """Return whether a sign stands before something like "2.5.", which then is no date."""
    whole_date = re.fullmatch(r"[0-9]+\.[0-9]+\.", found[0])
    return bool(whole_date and _SIGNED.search(found.string[max(found.start() - 2, 0) : found.start()]))


@lru_cache(maxsize=64)
def _of_names(names: tuple[str, ...]) -> tuple[re.Pattern[str], ...]:
    """Return patterns for names with a number in them, whole or by their last word, and for lists of them."""
    spelt = {str(value): word for word, value in WORD_VALUES.items()}
    patterns, stems = [], dict[str, set[str]]()
    whole = []
    for name in names:
        words = re.findall(r"[0-9]+|[^\W\d_]+", name.casefold())
        parts = []
        for place, word in enumerate(words):
            number = str(WORD_VALUES.get(word, word))
            if not number.isdigit():
                parts.append(re.escape(word))
                continue
            forms = rf"(?:{number}|{spelt[number]})" if number in spelt else number
            parts.append(forms)
            if place:
                stems.setdefault(words[place - 1], set()).add(forms)
        if any(_NUMERAL.fullmatch(word) for word in words):
            whole.append(r"[-_.\ ]{0,2}".join(parts))
    end = rf"(?![a-z0-9])(?![.,][0-9])(?!{SPACE}?(?:{DEGREES}|[cf](?![a-z])|cm|mm|%))"
    if whole:
        patterns.append(compiled(rf"(?<![a-z0-9])(?:{'|'.join(sorted(whole, key=len, reverse=True))}){end}"))
    for stem, numbers in stems.items():
        one = rf"(?:{'|'.join(sorted(numbers))}){end}"
        measured = rf"{COUNTED.pattern}(?!{STAGE_NOUN.pattern})|{UNIT.pattern}"
        more = rf"(?:(?:{SPACE}?[,&+-]{SPACE}?|\ (?:and|or|to)\ ){one}(?!{measured}))"
        more = re.sub(r"\(\?P<\w+>", "(?:", more)
        if not stem.isdigit():
            patterns.append(compiled(rf"(?<![a-z0-9]){re.escape(stem)}s?[-_.\ ]{{0,2}}{one}{more}{{0,20}}"))
    return tuple(patterns)
