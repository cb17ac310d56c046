"""Rules as the API tells them."""

from __future__ import annotations

from typing import Any

from marshmallow import fields

from advisor.doors.api.members import Answered, one_of, said
from advisor.reasoning.rulebase import OPERATORS, STRENGTHS


class RuleShort(Answered):
    """A rule in the list."""

    id = fields.String(required=True)
    topic = fields.String(required=True)
    says = fields.String(required=True)
    strength = one_of(STRENGTHS, "how well the trade's evidence supports it", required=True)
    concludes = fields.String(required=True, metadata=said("the kind of conclusion"))
    own = fields.Boolean(required=True, metadata=said("whether the grower wrote it"))
    href = fields.String(required=True)


class Rules(Answered):
    """Rules, by how well they fit where words are looked for, else by topic and claim."""

    rules = fields.List(fields.Nested(RuleShort), required=True)
    total = fields.Integer(required=True)


class RuleSource(Answered):
    """What stands behind a rule."""

    cite = fields.String(required=True)
    read = fields.String(required=True, metadata=said("how far it was read, empty where there is nothing to read"))
    backs = fields.String(required=True)


class RuleTest(Answered):
    """One test of a field. ``same_as`` joins to another block's field, written block.field."""

    field = fields.String(required=True)
    operator = one_of(("equals", *OPERATORS), required=True)
    operand: fields.Field[Any] = fields.Raw(required=True)


class RuleBlock(Answered):
    """One condition: a kind of fact and the tests that a fact of it has to pass."""

    name = fields.String(required=True)
    kind = fields.String(required=True)
    says = fields.String(required=True, metadata=said("the same in words"))
    tests = fields.List(fields.Nested(RuleTest), required=True)


class RuleHistory(Answered):
    """What came of a rule's advice in this garden: how often it was given, followed, held and failed."""

    given = fields.Integer(required=True)
    followed = fields.Integer(required=True)
    held = fields.Integer(required=True)
    failed = fields.Integer(required=True)


class RuleWhole(RuleShort):
    """A rule."""

    how_it_works = fields.String(required=True)
    since = fields.Date(required=True, allow_none=True)
    sources = fields.List(fields.Nested(RuleSource), required=True)
    cautions = fields.List(fields.String(), required=True, metadata=said("where the rule is wrong"))
    when = fields.List(fields.Nested(RuleBlock), required=True, metadata=said("all of them must match"))
    unless = fields.List(fields.Nested(RuleBlock), required=True, metadata=said("one that matches bars the rule"))
    gives = fields.Dict(required=True, metadata=said("the conclusion's members; {block.field} is what was found"))
    answers = fields.List(fields.String(), required=True, metadata=said("the questions that it answers"))
    helps = fields.List(fields.String(), required=True, metadata=said("the questions that it helps to answer"))
    history = fields.Nested(
        RuleHistory, required=True, allow_none=True, metadata=said("null where it gave no advice here yet")
    )
