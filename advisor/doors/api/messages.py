"""Messages in, answers out; and the messages so far."""

from __future__ import annotations

import re
from typing import Any

from flask import Blueprint, Response, g, request

from advisor.doors.api.answering import as_json, asked, body, fault, key_sent, next_link
from advisor.doors.api.described import Answer, described
from advisor.doors.api.reply_schemas import Reply, Waiting
from advisor.doors.api.schemas import Messages, MessageSent, Paged
from advisor.doors.page.frame import site
from advisor.records.messages import Outline, message, outlines_before_place

routes = Blueprint("api_messages", __name__)
TOPIC = "Messages"


@routes.post("/messages")
@described(
    "Send a message",
    topic=TOPIC,
    body=MessageSent,
    answers={200: Answer("The reply, or the first reply to a message of that id", Reply)},
    refuses=(404, 413, 415, 422),
    once=True,
    example={"text": "why is the shed fig late?", "id": "porch-1"},
)
def post_message() -> Response:
    """Ask or tell anything a grower would type. The same id is never answered twice: it gets its first reply again."""
    posted = body()
    if isinstance(posted, dict) and (key := key_sent(posted)):
        posted["id"] = key
    g.reply = site().adviser.message(posted, site().now(), site().garden_path())
    g.words = posted["text"] if isinstance(posted, dict) else ""
    return as_json(g.reply)


@routes.get("/messages/<message_id>")
@described(
    "Read a reply again",
    topic=TOPIC,
    answers={200: Answer("The reply", Reply), 202: Answer("It is kept and not answered yet", Waiting)},
    refuses=(404,),
)
def get_message(message_id: str) -> Response:
    """Return the reply to a message as it was sent."""
    with site().open() as garden:
        kept = message(garden, message_id)
    waiting = {"id": kept.id, "outcome": "waiting", "reply": ""}
    return as_json(kept.reply if kept.reply is not None else waiting, 200 if kept.reply is not None else 202)


@routes.get("/messages")
@described(
    "List messages",
    topic=TOPIC,
    query=Paged,
    answers={200: Answer("The messages, the latest first", Messages)},
    refuses=(404, 422),
)
def list_messages() -> Response:
    """List the messages so far, the latest first. Follow next: what comes in meanwhile moves nothing."""
    wanted = asked(Paged(), "listing messages")
    if wanted["after"] and not re.fullmatch(r"[0-9]{1,18}", wanted["after"]):
        raise fault("listing messages", "after", wanted["after"], "the mark in the last page's next")
    with site().open() as garden:
        place = int(wanted["after"]) if wanted["after"] else None
        found = outlines_before_place(garden, place, wanted["limit"] + 1)
    shown = found[: wanted["limit"]]
    more = str(shown[-1].place) if len(found) > len(shown) else ""
    return as_json({"messages": [_listed(one) for one in shown], "next": next_link(more)})


def _listed(one: Outline) -> dict[str, Any]:
    return {
        "id": one.id,
        "text": one.text,
        "received_at": one.received_at.isoformat(),
        "sent_at": one.sent_at.isoformat() if one.sent_at else None,
        "outcome": one.outcome,
        "short": one.short,
        "href": f"{request.path}/{one.id}",
    }
