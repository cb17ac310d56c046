"""A reply to a message, whole: what was concluded, the tree of reasons down to recorded rows, what is lacking."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from marshmallow import ValidationError, fields, validates_schema

from advisor.doors.api.members import Answered, one_of, said
from advisor.doors.api.rule_schemas import RuleHistory
from advisor.doors.api.schemas import VALUE, RowRef
from advisor.language.said.replies import ORDER as OUTCOMES
from advisor.reasoning.rulebase import STRENGTHS

SUBJECT: dict[str, Any] = {"additionalProperties": {"type": ["string", "array"], "items": {"type": "string"}}}
NEEDS = {"recorded": ("record",), "derived": ("by", "from"), "concluded": ("rule", "from")}


class Question(Answered):
    """What was understood: the kind of question and what it is about. Empty where nothing was asked."""

    kind = fields.String()
    plant = fields.String()
    species = fields.String()
    spots = fields.List(fields.String())


class Rows(RowRef):
    """Recorded rows that an answer rests on: one, or a long run of them up to ``to``."""

    to = fields.Integer(metadata=said("the last of the run"))


class Fact(Answered):
    """A fact and all that it rests on, down to recorded rows."""

    fact = fields.Dict(required=True, metadata=said("its kind, and its values with units in their names",
                                                    required=["kind"], additionalProperties=VALUE))  # fmt: skip
    origin = one_of(NEEDS, "recorded, derived by a calculation, or concluded by a rule", required=True)
    record = fields.String(metadata=said("of a recorded one kind/numbers, runs as spans: weather_day/1-110"))
    by = fields.String(metadata=said("of a derived one the calculation"))
    rule = fields.String(metadata=said("of a concluded one the rule"))
    method = fields.String(metadata=said("how a figure was reckoned"))
    trust = fields.String(metadata=said("how far to trust it"))
    from_ = fields.List(fields.Nested(lambda: Fact()), data_key="from")
    more = fields.Integer(metadata=said("further facts that it rests on, too many for one reply"))

    @validates_schema
    def _origin_told(self, data: Mapping[str, Any], **_: object) -> None:
        lacking = [name for name in NEEDS[data["origin"]] if name not in data and f"{name}_" not in data]
        if lacking:
            raise ValidationError(f"a {data['origin']} fact has {' and '.join(lacking)}")


class Because(Answered):
    """One reason: a rule that fired, in words, and the facts that matched it."""

    rule = fields.String(required=True)
    says = fields.String(required=True)
    how_it_works = fields.String(required=True)
    strength = one_of(STRENGTHS, required=True)
    sources = fields.List(fields.String(), required=True)
    tell = fields.String(required=True, metadata=said("the reason as told, in the grower's units"))
    from_ = fields.List(fields.Nested(Fact), required=True, data_key="from")
    not_known = fields.List(fields.String(), required=True, metadata=said("what no record settled"))
    owner = one_of(("yours", "yours for ours"), "the grower's own rule, or one in place of ours")
    history = fields.Nested(RuleHistory)


class Conclusion(Answered):
    """One conclusion. ``because`` are places in the reply's list of that name."""

    kind = fields.String(required=True)
    about = fields.Dict(required=True, metadata=said("of what: plant, spot, species …",
                                                     additionalProperties={"type": "string"}))  # fmt: skip
    claim = fields.String(required=True)
    tell = fields.String(required=True, metadata=said("as told, in the grower's units"))
    rule = fields.String(required=True)
    strength = one_of(STRENGTHS, "that of the weakest rule on the way", required=True)
    basis = one_of(("measured", "computed", "known"), "what it rests on at best", required=True)
    rank = fields.Integer(required=True, metadata=said("1 leads; those of a message's second answer come after"))
    because = fields.List(fields.Integer(), required=True)
    grade = fields.String(metadata=said("likely, possible, weak; ruled out"))
    size = fields.String(metadata=said("of a point: strong, fair, slight"))
    side = fields.String(metadata=said("of a point: for or against"))
    within_days = fields.Integer(metadata=said("of a task: by when"))
    loss = fields.String(metadata=said("of a task: what a miss may cost: tree, crop, growth, knowledge"))
    minutes = fields.Integer(metadata=said("of a task: how long for one plant"))


class Dispute(Answered):
    """Two conclusions that cannot both stand: the one taken, the one left, and why."""

    taken = fields.String(required=True)
    left = fields.String(required=True)
    about = fields.Dict(required=True, metadata=said("of what", additionalProperties={"type": "string"}))
    rules = fields.List(fields.String(), required=True)
    why = fields.String(required=True)


class Lacking(Answered):
    """One thing to find out: the kind of record, how to ask for it, the claims it would settle."""

    kind = fields.String(required=True)
    ask = fields.String(required=True)
    settles = fields.List(fields.String(), required=True)
    about = fields.Dict(required=True, metadata=said("of which spots and plants, and which field", **SUBJECT))


class SpotWeighed(Answered):
    """How a spot fares: its place in the order from 1, 0 where it is ruled out."""

    spot = fields.String(required=True)
    place = fields.Integer(required=True)
    ruled_out = fields.Boolean(required=True)
    species = fields.String()
    plant = fields.String()


class LeftOut(Answered):
    """How much of an answer about a large garden a reply does not bring. What the text tells is always there."""

    conclusions = fields.Integer()
    reasons = fields.Integer()
    records = fields.Integer(metadata=said("of those that the reasons sent rest on"))
    weighed = fields.Integer(metadata=said("of those weighed beside them"))
    disputes = fields.Integer()
    says = fields.String(required=True, metadata=said("the same in a sentence, with how to get at it"))


class Choice(Answered):
    """One way to answer a question put back: send its number or its text as the next message."""

    number = fields.Integer(required=True)
    text = fields.String(required=True)
    means = fields.Dict(required=True, metadata=said("how the adviser keeps it, for reading only"))


class Reply(Answered):
    """The reply to a message."""

    id = fields.String(required=True, metadata=said("the message's id"))
    outcome = one_of(OUTCOMES, "what came of the message", required=True)
    reply = fields.String(required=True, metadata=said("the answer in full, in the grower's units"))
    short = fields.String(required=True, metadata=said("the answer as a text message, two parts at most"))
    question = fields.Nested(Question, required=True)
    conclusions = fields.List(fields.Nested(Conclusion), required=True)
    because = fields.List(fields.Nested(Because), required=True)
    records = fields.List(fields.Nested(Rows), required=True, metadata=said("every record that the answer rests on"))
    recorded = fields.List(fields.Nested(RowRef), required=True, metadata=said("what the message added"))
    lacking = fields.List(fields.Nested(Lacking), required=True)
    cautions = fields.List(fields.String(), required=True)
    choices = fields.List(fields.Nested(Choice), metadata=said("the ways to answer what was asked back"))
    disputes = fields.List(fields.Nested(Dispute), metadata=said("where rules disagree, and which was taken"))
    state = fields.List(fields.Nested(Fact), metadata=said("the facts that the answer opens with"))
    spots = fields.List(fields.Nested(SpotWeighed), metadata=said("with the tree, where two answers weigh spots"))
    weighed = fields.List(fields.Nested(Rows), metadata=said("records that might have spoken otherwise, and did not"))
    left_out = fields.Nested(LeftOut, metadata=said("where a reply is not whole: ask about one plant for its own"))
    place = fields.Dict(metadata=said("while a garden is set up by talk: the place as far as it is told"))
    asked = fields.String(metadata=said("while a garden is set up by talk: what is asked next"))


class Waiting(Answered):
    """A message that is kept and has no answer yet."""

    id = fields.String(required=True)
    outcome = one_of(("waiting",), required=True)
    reply = fields.String(required=True)
