"""Where a garden lies, as people write it: degrees with letters, signs, minutes and seconds, in any usual order."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass

WANTED = "latitude and longitude, such as 47.07 N 15.44 E, 47.07, 15.44 or 47°04'N 15°26'E"
EVERYDAY = (
    (r"[º˚]|\bdeg(?:rees?)?\b\.?", "°"),
    (r"[′’‘´`]|\bmin(?:utes?)?\b\.?", "'"),
    (r"[″”“]|''|\bsec(?:onds?)?\b\.?", '"'),
    (r"[−–]", "-"),
    (r"^\s*geo:", " "),
    (r"\bnorth(?:ern)?\b", "N"),
    (r"\bsouth(?:ern)?\b", "S"),
    (r"\beast(?:ern)?\b", "E"),
    (r"\bwest(?:ern)?\b", "W"),
    (r"\blat(?:itude)?\b\.?\s*[:=]?", " φ "),
    (r"\b(?:long?|lng|longitude)\b\.?\s*[:=]?", " λ "),
)
TOKEN = re.compile(r"([-+]?\d+(?:[.,]\d+)?)|([NSEWφλ])|([°'\":])|([,;/])|\s+|(.)", re.IGNORECASE)
DECIMAL_POINT = re.compile(r"\d\.\d")
COMPACT = re.compile(r"([-+])(\d{2}|\d{4}|\d{6})(\.\d+)?([-+])(\d{3}|\d{5}|\d{7})(\.\d+)?(?:[-+]\d+(?:\.\d+)?)?/?")
"""Both angles in one run of figures, as ISO 6709 has it."""
RUN = re.compile(
    r"(?:[-+−–]?\d+(?:[.,]\d+)?|[°º˚'′’‘´`\"″”“]|\b(?:[NSEW]|north|south|east|west|lat(?:itude)?|long?(?:gitude)?|lng"
    r"|deg(?:rees?)?|min(?:utes?)?|sec(?:onds?)?)\b\.?|(?<=\d)[NSEW]\b|\b[NSEW](?=\d)|[\s,;/:=])+",
    re.IGNORECASE,
)
"""A stretch of a message that may be a position: figures, marks and the words that go with them."""
AXES = {"N": "lat", "S": "lat", "φ": "lat", "E": "lon", "W": "lon", "λ": "lon"}


@dataclass(frozen=True, slots=True)
class Position:
    """A place on the earth, north and east positive. [°]"""

    latitude_deg: float
    longitude_deg: float

    def __str__(self) -> str:
        """Return the position as one says it.

        >>> str(Position(47.07, 15.44)), str(Position(-37.81, -0.5))
        ('47.07° north, 15.44° east', '37.81° south, 0.5° west')
        """
        lat, lon = self.latitude_deg, self.longitude_deg
        north, east = "north" if lat >= 0 else "south", "east" if lon >= 0 else "west"
        return f"{round(abs(lat), 4):g}° {north}, {round(abs(lon), 4):g}° {east}"


@dataclass
class _Angle:
    """One angle as it was written: degrees, perhaps minutes and seconds, a sign or a letter."""

    parts: list[str]
    letters: list[str]

    @property
    def axis(self) -> str:
        axes = {AXES[letter] for letter in self.letters}
        if len(axes) > 1:
            raise ValueError(f"one angle north or south, and one east or west: {WANTED}")
        return axes.pop() if axes else ""

    def degrees(self) -> float:
        """Return the angle. [°] Raises ValueError where it is none."""
        numbers = [float(part.replace(",", ".")) for part in self.parts]
        if not 1 <= len(numbers) <= 3 or any(part[0] in "+-" for part in self.parts[1:]):
            raise ValueError(WANTED)
        if any(number != int(number) for number in numbers[:-1]) or any(number >= 60 for number in numbers[1:]):
            raise ValueError("minutes and seconds below 60, and whole numbers before them")
        size = sum(abs(number) / 60.0**place for place, number in enumerate(numbers))
        sides = [letter for letter in self.letters if letter not in "φλ"]
        if len(sides) > 1 or (sides and self.parts[0][0] in "+-"):
            raise ValueError("either a sign or a letter: a minus already says south or west")
        return -float(size) if self.parts[0][0] == "-" or sides in (["S"], ["W"]) else float(size)


def read_position(text: str) -> Position:
    """Return the position that a text writes: latitude first, unless letters or words say otherwise.

    Raises ValueError, saying what is wanted, where it is none or can be read two ways.

    >>> read_position("47°04'30\\" N, 15°26' E")
    Position(latitude_deg=47.075, longitude_deg=15.433333)
    """
    compact = COMPACT.fullmatch(text.strip())
    if compact:
        angles = [
            _Angle(_figures(compact[sign], compact[sign + 1], compact[sign + 2] or "", width), [])
            for sign, width in ((1, 2), (4, 3))
        ]
    else:
        angles = _angles(_plain(text))
    if len(angles) != 2:
        raise ValueError(f"two angles: {WANTED}")
    first, second = (angle.axis for angle in angles)
    if first and first == second:
        raise ValueError(f"one angle north or south, and one east or west: {WANTED}")
    turned = first == "lon" or second == "lat"
    lat, lon = (angle.degrees() for angle in (reversed(angles) if turned else angles))
    if abs(lat) > 90 and abs(lon) <= 90 and not (first or second):
        other = Position(round(lon, 6), round(lat, 6))
        raise ValueError(f"the latitude first, and none is beyond 90°; if you mean {other}, turn the two round")
    if abs(lat) > 90 or abs(lon) > 180:
        raise ValueError("a latitude of at most 90° and a longitude of at most 180°")
    return Position(round(lat, 6), round(lon, 6))


def find_position(text: str) -> tuple[Position | ValueError, str] | None:
    """Return the position told in a message, and the message without it; None where none is told.

    Where figures look like a position and are none, the error says what is wanted.
    """
    for run in RUN.finditer(text):
        plain = _plain(run[0])
        if len(re.findall(r"\d+(?:[.,]\d+)?", plain)) < 2 or not re.search(r"[NSEWφλ°]|\d[.,]\d", plain):
            continue
        left = f"{text[: run.start()]}, {text[run.end() :]}"
        figures = re.search(r"[-+NSEW]*\s?\d.*", plain, re.DOTALL)
        errors = []
        for part in (plain, figures[0] if figures else plain):  # "garden in the north, 47.07 N 15.44 E"
            try:
                return read_position(part.strip(" ,;/:")), left
            except ValueError as error:
                errors.append(error)
        return errors[0], left
    return None


def _plain(text: str) -> str:
    for pattern, mark in EVERYDAY:
        text = re.sub(pattern, mark, text, flags=re.IGNORECASE)
    return text


def _figures(sign: str, whole: str, rest: str, width: int) -> list[str]:
    """Return degrees, minutes and seconds out of one run of figures, of which the first ``width`` are degrees."""
    parts = [whole[:width], *(whole[at : at + 2] for at in range(width, len(whole), 2))]
    parts[-1] += rest
    return [sign + parts[0], *parts[1:]]


def _angles(text: str) -> list[_Angle]:
    """Return a text cut into its angles. Raises ValueError where something in it is no part of one."""
    tokens: list[tuple[str, str]] = []
    comma_parts = not DECIMAL_POINT.search(text)
    for number, letter, mark, stop, strange in TOKEN.findall(text):
        if strange:
            raise ValueError(WANTED)
        if number and "," in number and not comma_parts:  # "47,15.44": the comma parts two numbers
            whole, _, rest = number.partition(",")
            tokens += [("number", whole), ("stop", ","), ("number", rest)]
        elif number or letter or mark or stop:
            kind = "number" if number else "letter" if letter else "mark" if mark else "stop"
            tokens.append((kind, number or letter.upper().replace("Φ", "φ").replace("Λ", "λ") or mark or stop))
    return _grouped(tokens)


def _grouped(tokens: Sequence[tuple[str, str]]) -> list[_Angle]:
    """Return tokens as angles: parted by letters where there are any, else by degree marks or a comma."""
    letters = [at for at, (kind, _) in enumerate(tokens) if kind == "letter"]
    numbers = [at for at, (kind, _) in enumerate(tokens) if kind == "number"]
    stops = [at for at, (kind, _) in enumerate(tokens) if kind == "stop"]
    degrees = [at for at in numbers if tokens[at + 1 : at + 2] == [("mark", "°")]]
    if not numbers:
        raise ValueError(WANTED)
    if len(letters) >= 2 and letters[0] < numbers[0]:
        heads = [at for at in letters if tokens[at][1] in "φλ"] or letters
        starts = [0, heads[1] if len(heads) > 1 else len(tokens)]
    elif len(letters) >= 2:
        starts = [0, letters[0] + 1]
    elif len(degrees) == 2:
        starts = [0, degrees[1]]
    elif len(stops) == 1:
        starts = [0, stops[0]]
    elif len(numbers) == 2 and not (degrees and letters):
        starts = [0, numbers[1]]
    else:
        raise ValueError(WANTED)
    found = []
    for start, end in zip(starts, [*starts[1:], len(tokens)], strict=True):
        part = tokens[start:end]
        found.append(_Angle([t for k, t in part if k == "number"], [t for k, t in part if k == "letter"]))
    return found
