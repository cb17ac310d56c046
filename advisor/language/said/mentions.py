"""What a stretch of a message speaks of: plants and spots, sure or not."""

from __future__ import annotations

from dataclasses import dataclass, field


@dataclass(frozen=True, slots=True)
class Mention:
    """One thing spoken of, with its place. ``names`` are the plants or spots that it means, or may mean where not sure.

    ``kind`` is plant or spot. ``unknown`` is what was said where nothing in the garden is called so.
    """

    kind: str
    names: tuple[str, ...]
    start: int
    end: int
    sure: bool = True
    unknown: str = ""
    all_of_kind: bool = False


@dataclass(frozen=True)
class Subjects:
    """Plants and spots of a stretch, in order."""

    mentions: tuple[Mention, ...] = field(default_factory=tuple)

    @property
    def plants(self) -> list[Mention]:
        return [one for one in self.mentions if one.kind == "plant"]

    @property
    def spots(self) -> list[Mention]:
        return [one for one in self.mentions if one.kind == "spot"]
