"""How a picture looks: the page's own colours by day and by night, and sizes for a phone and for a table."""

from __future__ import annotations

from dataclasses import dataclass

from advisor.errors import BadInput

THEMES: dict[str, dict[str, str]] = {
    "light": {
        "paper": "#fdfcf7", "ink": "#17211a", "soft": "#47534a", "line": "#b9c2b4", "leaf": "#1f5a35",
        "leaf-wash": "#e6f0e2", "plum": "#6d2350", "plum-wash": "#f6e8f0", "warn": "#8a3b00", "warn-wash": "#fdeeda",
        "bad": "#9b1c1c", "bad-wash": "#fdeaea", "focus": "#0b57d0",
    },
    "dark": {
        "paper": "#14170f", "ink": "#f1f3ea", "soft": "#c3cbb9", "line": "#56604d", "leaf": "#a6d8a0",
        "leaf-wash": "#263522", "plum": "#efb4d5", "plum-wash": "#3a2432", "warn": "#ffc486", "warn-wash": "#3d2a14",
        "bad": "#ffb3ab", "bad-wash": "#431d1b", "focus": "#a8c7fa",
    },
}  # fmt: skip
"""The variables of the pages' style sheet, which a drawing cannot read; a test holds them together."""
SIZES = {"phone": (328, 13), "wide": (704, 14)}
"""Width of the drawing and size of its text, in pixels as shown: a page of 360 has 328 between its margins."""
SERIES = ("leaf", "plum", "warn", "focus", "bad", "ink")
DASHES: tuple[list[int], ...] = ([], [7, 3], [2, 3], [9, 3, 2, 3], [5, 5], [12, 4])
"""A series is told by its dash and its label as well as by its colour."""
LETTER = 0.53
"""Mean width of a letter beside its height, on the wide side of what sans-serif faces have."""


@dataclass(frozen=True, slots=True)
class Look:
    """A theme and a size by name. Raises BadInput for one that is not there."""

    theme: str = "light"
    size: str = "wide"

    def __post_init__(self) -> None:
        """Refuse a look that is not there."""
        for value, known in ((self.theme, THEMES), (self.size, SIZES)):
            if value not in known:
                raise BadInput("drawing a picture", f"no look {value!r}", f"Use one of {', '.join(known)}")

    @property
    def colour(self) -> dict[str, str]:
        return THEMES[self.theme]

    @property
    def width(self) -> int:
        return SIZES[self.size][0]

    @property
    def text(self) -> int:
        return SIZES[self.size][1]

    @property
    def narrow(self) -> bool:
        return self.size == "phone"

    def series(self, n: int) -> tuple[str, list[int]]:
        """Return the colour and the dash of a series."""
        return self.colour[SERIES[n % len(SERIES)]], DASHES[n % len(DASHES)]

    def wide_of(self, text: str) -> float:
        """Return about how wide a text is drawn. [px]"""
        return len(text) * self.text * LETTER
