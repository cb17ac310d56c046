"""What is sent to the API and what comes back, but for replies to messages (``reply_schemas``)."""

from __future__ import annotations

from typing import Any

from marshmallow import fields, validate

from advisor.doors.api.members import Answered, Asked, Day, Sent, one_of, said, text
from advisor.records.kinds import ORIGINS, TYPES
from advisor.talk.posted import MESSAGE_ID

MOST_ROWS, USUAL_ROWS = 200, 50
KEY_PATTERN = f"^{MESSAGE_ID.pattern}$"
IN_USE, OUT_OF_USE, ALL = "in-use", "out-of-use", "all"
VALUE: dict[str, Any] = {"type": ["string", "number", "boolean"]}
UNITS = "Units stand in the members' names: temp_c in °C, depth_cm in cm. Dates are ISO 8601, times have an offset."


def key_member() -> fields.String:
    """Return the sender's own name for what is sent."""
    says = "your own name for what you send; sent again under it, it counts once"
    wanted = "1 to 64 letters, digits, points, colons, dashes and underscores"
    return text(pattern=KEY_PATTERN, wanted=wanted, says=says, allow_none=True, load_default=None)


class Paged(Sent):
    """Part of an address: how many, and where to go on."""

    limit = Asked(
        load_default=USUAL_ROWS,
        validate=validate.Range(1, MOST_ROWS, error=f"1 to {MOST_ROWS}"),
        metadata=said("how many at most"),
    )
    after = text(longest=200, says="the mark in the last page's next", load_default="")


class MessageSent(Sent):
    """A message: anything a grower would say or ask."""

    text = text(required=True, shortest=1, says="what a grower would type, usually at most 2000 characters")
    id = key_member()
    sent_at = fields.AwareDateTime(
        allow_none=True, load_default=None, metadata=said("when it was written, so that a late message keeps its day")
    )


class RecordSent(Sent):
    """A record to add."""

    values = fields.Dict(required=True, metadata=said(f"the fields of the kind. {UNITS}"))
    words = text(longest=2000, says="what the grower said of it, in their own words", load_default="")
    said_by = text(longest=100, says="who says so", load_default="")
    id = key_member()


class Ruled(Sent):
    """Why a record goes out of use, or comes back."""

    reason = text(required=True, shortest=1, longest=500, pattern=r"\S", says="kept with the record; a word will do")
    said_by = text(longest=100, says="who says so", load_default="")
    id = key_member()


class Correction(Ruled):
    """What a record should say instead."""

    changes = fields.Dict(
        required=True,
        validate=validate.Length(min=1, error="at least one field"),
        metadata=said("only the fields that are otherwise; null takes a value away", minProperties=1,
                      additionalProperties={"type": ["string", "number", "boolean", "null"]}),
    )  # fmt: skip


class RecordsAsked(Paged):
    """Which records of a kind: about a plant or spot, from and to a day, in use or not."""

    plant = text(shortest=1, says="only what is about this plant, by its name")
    spot = text(shortest=1, says="only what is about this spot, by its name")
    since = Day(metadata=said("from this day on"))
    until = Day(metadata=said("up to this day, and with it"))
    state = one_of((IN_USE, OUT_OF_USE, ALL), "in use, taken out of use, or both", load_default=IN_USE)


class GardenAsked(Sent):
    """On which day."""

    on = Day(metadata=said("the day, today where none is given"))


class RulesAsked(Sent):
    """Which rules."""

    topic = text(shortest=1, says="only rules of this topic")
    q = text(longest=200, says="words to find, slips allowed", load_default="")


class KindsAsked(Sent):
    """Which kinds."""

    origin = one_of(ORIGINS, "only kinds that are recorded, derived from records, or concluded by rules")


# ---- answered


class Fault(Answered):
    """One member or field that cannot be used."""

    field = fields.String(required=True)
    found = fields.String(required=True)
    wanted = fields.String(required=True)


class Problem(Answered):
    """Problem details (RFC 9457) with what was done, what was found and what to do."""

    type = fields.String(required=True, metadata=said("urn:advisor:problem:… for what kind of problem, or about:blank"))
    title = fields.String(required=True)
    status = fields.Integer(required=True)
    detail = fields.String(required=True)
    done = fields.String(required=True, metadata=said("what was being done"))
    found = fields.String(required=True, metadata=said("what stood in the way"))
    do = fields.String(required=True, metadata=said("what to do about it"))
    faults = fields.List(fields.Nested(Fault), metadata=said("each member or field that cannot be used"))


class RowRef(Answered):
    """A record by its kind and number."""

    kind = fields.String(required=True)
    id = fields.Integer(required=True)


class Saying(Answered):
    """Who told something, when and how."""

    by = fields.String(required=True, metadata=said("who, where a name was given"))
    at = fields.DateTime(required=True)
    via = fields.String(required=True, metadata=said("api, message, page, file, command or undo"))
    ref = fields.String(required=True, metadata=said("the message's id, the file's name, the key it was sent under"))
    line = fields.Integer(required=True, allow_none=True, metadata=said("its line in a file"))


class Ruling(Answered):
    """One thing that became of a record."""

    in_use = fields.Boolean(required=True, metadata=said("whether it was brought back, or taken out of use"))
    reason = fields.String(required=True)
    replaced_by = fields.Integer(required=True, allow_none=True, metadata=said("the record that stands for it"))
    said = fields.Nested(Saying, required=True)


class Record(Answered):
    """A record as it was told."""

    kind = fields.String(required=True)
    id = fields.Integer(required=True)
    in_use = fields.Boolean(required=True)
    values = fields.Dict(required=True, metadata=said(f"the fields of the kind. {UNITS}", additionalProperties=VALUE))
    words = fields.String(required=True, metadata=said("as it was told, where it was told in words"))
    said = fields.Nested(Saying, required=True)
    href = fields.String(required=True)


class RecordWhole(Record):
    """A record, what became of it, and how it stands to others."""

    rulings = fields.List(fields.Nested(Ruling), required=True)
    stood_for_by = fields.Integer(
        required=True, allow_none=True, metadata=said("the record in use that stands for this one")
    )
    stands_for = fields.Integer(required=True, allow_none=True, metadata=said("the older record that this stands for"))


class Recorded(Answered):
    """What came of adding or putting right."""

    outcome = one_of(("recorded", "known"), "known: the same was recorded before, and nothing was added", required=True)
    record = fields.Nested(RecordWhole, required=True)
    recorded = fields.List(
        fields.Nested(RowRef), required=True, metadata=said("all that was added: hours of weather also make their day")
    )


class Records(Answered):
    """A page of records, what holds last first."""

    records = fields.List(fields.Nested(Record), required=True)
    total = fields.Integer(required=True, metadata=said("how many there are on all pages"))
    next = fields.String(required=True, allow_none=True, metadata=said("where the next page is"))


class MessageKept(Answered):
    """A message in the list."""

    id = fields.String(required=True)
    text = fields.String(required=True)
    received_at = fields.DateTime(required=True)
    sent_at = fields.DateTime(required=True, allow_none=True)
    outcome = fields.String(required=True, metadata=said("as in its reply; waiting where it has none yet"))
    short = fields.String(required=True, metadata=said("its answer in short, empty where it has none yet"))
    href = fields.String(required=True, metadata=said("where its whole reply is"))


class Messages(Answered):
    """A page of messages, the latest first."""

    messages = fields.List(fields.Nested(MessageKept), required=True)
    next = fields.String(required=True, allow_none=True, metadata=said("where the next page is"))


class Place(Answered):
    """Where the garden lies."""

    name = fields.String(required=True)
    latitude_deg = fields.Float(required=True)
    longitude_deg = fields.Float(required=True)
    time_zone = fields.String(required=True)
    units = fields.String(required=True, metadata=said("how its grower is spoken to; figures here stay metric"))


class SpotNow(Answered):
    """A spot on the day; null is not known."""

    spot = fields.String(required=True)
    cover = fields.String(required=True, allow_none=True)
    depth_cm = fields.Float(required=True, allow_none=True)
    soil_c = fields.Float(required=True, allow_none=True)
    soil_age_days = fields.Integer(required=True, allow_none=True)


class PlantNow(Answered):
    """A plant on the day; null is not known."""

    plant = fields.String(required=True)
    species = fields.String(required=True)
    spot = fields.String(required=True, allow_none=True)
    growing = fields.String(required=True, allow_none=True)
    under_cover = fields.String(required=True, allow_none=True)
    stage = fields.String(required=True, allow_none=True)
    bbch = fields.Integer(required=True, allow_none=True)
    stage_age_days = fields.Integer(required=True, allow_none=True)
    condition = fields.String(required=True, metadata=said("asleep, awake, in bloom, or not looked at"))
    shoot_cm = fields.Float(required=True, allow_none=True)
    pot_c = fields.Float(required=True, allow_none=True)
    pot_age_days = fields.Integer(required=True, allow_none=True)


class Contradiction(Answered):
    """Records that cannot all be true."""

    says = fields.String(required=True)
    records = fields.List(fields.String(), required=True, metadata=said("kind/number of each"))


class GardenState(Answered):
    """The garden on a day."""

    on = fields.Date(required=True)
    place = fields.Nested(Place, required=True)
    spots = fields.List(fields.Nested(SpotNow), required=True)
    plants = fields.List(fields.Nested(PlantNow), required=True)
    contradictions = fields.List(fields.Nested(Contradiction), required=True)


class KindField(Answered):
    """One field of a kind."""

    name = fields.String(required=True)
    type = one_of(TYPES, required=True)
    unit = fields.String(required=True, allow_none=True)
    says = fields.String(required=True)
    required = fields.Boolean(required=True)
    one_of = fields.List(fields.String(), required=True)
    min = fields.Float(required=True, allow_none=True)
    max = fields.Float(required=True, allow_none=True)


class Kind(Answered):
    """One kind of fact."""

    name = fields.String(required=True)
    says = fields.String(required=True)
    origin = one_of(ORIGINS, required=True)
    can_be_sent = fields.Boolean(required=True, metadata=said("whether POST /v1/records/KIND takes it"))
    holds_on = fields.String(required=True, allow_none=True, metadata=said("the field that says when it holds"))
    needs_one_of = fields.List(fields.String(), required=True)
    same_when = fields.List(
        fields.String(), required=True, metadata=said("told again with these alike, a record stands for the older one")
    )
    fields_ = fields.List(fields.Nested(KindField), required=True, data_key="fields")
    example = fields.Dict(required=True, allow_none=True)


class Kinds(Answered):
    """Kinds of facts."""

    kinds = fields.List(fields.Nested(Kind), required=True)
