"""What a route of the API says of itself, so that the document is made from the code that answers."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Any, TypeVar

from marshmallow import Schema

View = TypeVar("View", bound=Callable[..., Any])
ALWAYS = (401, 403, 421, 429, 500, 503)
"""What any route may answer: no key, sent by another site's page, under another name, too much, ours, not now."""


@dataclass(frozen=True)
class Answer:
    """One answer: what it means and its body's schema."""

    says: str
    schema: type[Schema] | None = None


@dataclass(frozen=True)
class Described:
    """A route: a title, what it does, what it takes and what it answers; ``open`` to those without a key."""

    title: str
    topic: str
    says: str
    answers: Mapping[int, Answer]
    query: type[Schema] | None = None
    body: type[Schema] | None = None
    refuses: tuple[int, ...] = ()
    once: bool = False
    open: bool = False
    example: Mapping[str, Any] = field(default_factory=dict)


def described(title: str, *, topic: str, answers: Mapping[int, Answer], **more: Any) -> Callable[[View], View]:
    """Describe a view: its docstring's first paragraph says what it does. Put it below the line with its route.

    ``more`` are the other members of ``Described``.
    """

    def mark(view: View) -> View:
        says = " ".join((view.__doc__ or "").split("\n\n", 1)[0].split())
        view.described = Described(title, topic, says, answers, **more)  # type: ignore[attr-defined]  # a mark
        return view

    return mark
