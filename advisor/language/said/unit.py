"""What hearing needs, and the unit that it works on: one thing said of some plants or spots."""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from datetime import datetime

from advisor.language.quantities import Quantity
from advisor.language.said.mentions import Mention
from advisor.language.said.pieces import Piece
from advisor.language.said.stages import SaidStage
from advisor.language.said.yard import Yard
from advisor.language.when import Said
from advisor.records.stage_words import StageWords
from advisor.records.talk_words import TalkWords

TEMPERATURE_UNITS = ("c", "f", "freezing")
LENGTH_UNITS = ("cm", "mm", "m", "in", "ft")


@dataclass(frozen=True)
class Ears:
    """What hearing needs besides the message: the garden's names, word lists, the clock, the order of dates."""

    yard: Yard
    talk: TalkWords
    stages: StageWords
    now: datetime
    day_first: bool

    @property
    def names(self) -> list[str]:
        return [*(plant.name for plant in self.yard.plants), *(spot.name for spot in self.yard.spots)]


@dataclass
class Unit:
    """One thing said: its pieces of text, whom it speaks of, its figures, times and stages, and its sorts of event.

    ``inherited`` says that it names nothing itself and takes the subject of the unit before it.
    """

    pieces: list[Piece] = field(default_factory=list)
    mentions: list[Mention] = field(default_factory=list)
    quantities: list[Quantity] = field(default_factory=list)
    times: list[Said] = field(default_factory=list)
    stages: list[SaidStage] = field(default_factory=list)
    events: list[str] = field(default_factory=list)
    inherited: bool = False
    header: str = ""

    @property
    def text(self) -> str:
        """The words of a unit, those of the sentence's header before them."""
        return f"{self.header}: {self.told}" if self.header else self.told

    @property
    def told(self) -> str:
        """The words of a unit without the header."""
        return ", ".join(piece.text for piece in self.pieces)

    @property
    def start(self) -> int:
        return self.pieces[0].start

    @property
    def verb_first(self) -> bool:
        """Whether what is said stands before those it is said of: "pinched the wall fig"."""
        first = min((mention.start for mention in self.mentions), default=None)
        return first is not None and first > self.start + 2

    def follows(self, pattern: re.Pattern[str], end: int) -> bool:
        """Return whether a pattern stands right after a place in the message, within one piece."""
        return any(p.start <= end <= p.end and pattern.match(p.text, end - p.start) for p in self.pieces)

    @property
    def own_mentions(self) -> bool:
        return bool(self.mentions) and not self.inherited

    def plants(self) -> list[Mention]:
        return [one for one in self.mentions if one.kind == "plant"]

    def spots(self) -> list[Mention]:
        return [one for one in self.mentions if one.kind == "spot"]
