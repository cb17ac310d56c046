"""Members of what is sent and answered: each says what is wanted in words, and takes nothing that only looks like it.

A program that sends "12" for 12 has a fault that it should hear of, so texts are not read as numbers here.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from datetime import date, datetime
from math import isfinite
from typing import Any

from marshmallow import RAISE, Schema, ValidationError, fields, validate

from advisor.records.moments import YEARS

DATE = re.compile(r"\d{4}-\d\d-\d\d")
TIME = re.compile(r"\d{4}-\d\d-\d\d[Tt ]\d\d:\d\d(:\d\d(\.\d{1,6})?)?([Zz]|[+-]\d\d:\d\d)")
FIRST_YEAR, LAST_YEAR = 1900, 2200
UNKNOWN = {"unknown": "nothing: there is no such member", "type": "an object"}
WANTED: dict[str, Any] = {"required": "a value: it has to be there", "null": "a value, not null"}


class Sent(Schema):
    """Base of what is sent: a member that is not named in it is refused."""

    error_messages = UNKNOWN

    class Meta:
        unknown = RAISE


class Answered(Schema):
    """Base of what is answered. A program should pass over members that it does not know: more may come."""


def text(
    *, longest: int = 0, shortest: int = 0, pattern: str = "", wanted: str = "", says: str = "", **more: Any
) -> fields.String:
    """Return a member of text; ``wanted`` says in words what fits the pattern."""
    checks: list[Any] = []
    if longest or shortest:
        long = f"{shortest} to {longest} characters" if longest else "some text"
        checks.append(validate.Length(shortest or None, longest or None, error=long))
    if pattern:
        checks.append(validate.Regexp(pattern, error=wanted or "some text"))
    return fields.String(
        validate=checks, error_messages={**WANTED, "invalid": "a text"}, metadata=said(says), **more
    )  # fmt: skip


def one_of(words: Any, says: str = "", **more: Any) -> fields.String:
    """Return a member that is one of a few words."""
    check = validate.OneOf(list(words), error="one of {choices}")
    return fields.String(
        validate=check, error_messages={**WANTED, "invalid": "a text"}, metadata=said(says), **more
    )  # fmt: skip


def said(says: str, **more: Any) -> dict[str, Any]:
    """Return what the document tells of a member."""
    return {**({"description": says} if says else {}), **more}


class Number(fields.Float):
    """A number and nothing that merely reads like one."""

    def _deserialize(self, value: Any, attr: str | None, data: Mapping[str, Any] | None, **_: Any) -> float:
        if isinstance(value, bool) or not isinstance(value, int | float) or not _is_finite(value):
            raise ValidationError("a number")
        return float(value)


class Whole(fields.Integer):
    """A whole number; ``12.0`` is one, as JSON knows no other sort of number."""

    def _deserialize(self, value: Any, attr: str | None, data: Mapping[str, Any] | None, **_: Any) -> int:
        if isinstance(value, bool) or not isinstance(value, int | float) or not _is_finite(value) or value % 1:
            raise ValidationError("a whole number")
        return int(value)


def _is_finite(value: float) -> bool:
    try:
        return isfinite(value)
    except OverflowError:
        return False


class Asked(fields.Integer):
    """A whole number in an address, where everything is text."""

    def _deserialize(self, value: Any, attr: str | None, data: Mapping[str, Any] | None, **_: Any) -> int:
        if not re.fullmatch(r"[0-9]{1,9}", str(value)):
            raise ValidationError("a whole number")
        return int(value)


class YesNo(fields.Boolean):
    """true or false."""

    def _deserialize(self, value: Any, attr: str | None, data: Mapping[str, Any] | None, **_: Any) -> bool:
        if not isinstance(value, bool):
            raise ValidationError("true or false")
        return value


class Day(fields.Date):
    """A date as ISO 8601 has it."""

    def _deserialize(self, value: Any, attr: str | None, data: Mapping[str, Any] | None, **_: Any) -> date:
        try:
            if not isinstance(value, str) or not DATE.fullmatch(value):
                raise ValueError
            day = date.fromisoformat(value)
        except ValueError:
            raise ValidationError("a date such as 2026-04-20") from None
        if not FIRST_YEAR <= day.year < LAST_YEAR:
            raise ValidationError(YEARS)
        return day


class Moment(fields.AwareDateTime):
    """A time as ISO 8601 has it, with its offset."""

    def _deserialize(self, value: Any, attr: str | None, data: Mapping[str, Any] | None, **_: Any) -> datetime:
        try:
            if not isinstance(value, str) or not TIME.fullmatch(value):
                raise ValueError
            at = datetime.fromisoformat(value)
        except ValueError:
            raise ValidationError("a time with its offset, such as 2026-04-20T13:30:00+02:00") from None
        if not FIRST_YEAR <= at.year < LAST_YEAR:
            raise ValidationError(YEARS)
        return at
