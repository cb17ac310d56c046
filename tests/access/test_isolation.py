"""Nothing of one grower reaches another: every route is tried, every cache looked at."""

from __future__ import annotations

import html
import importlib
import io
import itertools
import json
import pkgutil
import re
import sqlite3
import zipfile
from collections.abc import Iterator
from importlib.util import find_spec
from pathlib import Path
from typing import Any, get_type_hints
from urllib.parse import unquote

import pytest
from flask.testing import FlaskClient
from werkzeug.routing import Rule

import advisor
from advisor.doors.access.request import API, no_key_needed
from advisor.doors.page.frame import site

TOP = Path(advisor.__file__).parent
SECRETS = ("quillgate", "quilllane", "Quillbarrow", "quillword")
"""Words that stand in the first grower's garden and messages alone, and that no request of the second names."""
KNOWN = ("quillshed fig", "quill-message", "stage", "plant", "soil_reading", "why-late")
"""Names that the second grower may have guessed; a refusal may say them back."""
QUESTION = "is the quillgate apricot safe tonight? quillword"
FORM = {
    "text": "undo", "plant": "quillshed fig", "spot": "quillshed", "name": "quillshed fig", "kind": "stage", "id": "1",
    "row": "1", "ref": "stage/1", "record": "stage/1", "message": "quill-message", "message_id": "quill-message",
    "reason": "wrong", "on": "2026-04-20", "words": "bud break", "bbch": "7", "species": "fig", "digest": "stage.csv",
    "file": "stage.csv", "token": "1", "preview": "1", "q": "quillshed", "confirm": "yes", "go": "yes",
}  # fmt: skip
MESSAGE = {"text": "undo", "id": "quill-message"}
MOST_LINKS = 80
OPEN = ("/health", "/api", "/v1/openapi.json")
"""What shows nothing of any garden and leads strangers nowhere."""
QUERY = {name: value for name, value in FORM.items() if name != "text"}


def addresses(rule: Rule) -> Iterator[str]:
    """Yield the paths of a route, its parts filled with what belongs to the first grower."""
    parts = [part for is_dynamic, part in rule._trace if is_dynamic]
    choices = []
    for name in parts:
        converter = rule._converters[name]
        numeric = type(converter).__name__ in ("IntegerConverter", "FloatConverter")
        named = tuple(sorted(getattr(converter, "items", ())))  # one of a few words
        choices.append(("1", "2", "40") if numeric else named or (*KNOWN, "1"))
    for chosen in itertools.islice(itertools.product(*choices), 60):
        filled = iter(chosen)
        yield "".join(next(filled) if is_dynamic else part for is_dynamic, part in rule._trace).lstrip("|")


def crawl(service: Any, client: FlaskClient) -> Iterator[tuple[str, str, Any]]:
    """Yield method, path and answer of every route, by GET with and without a query, and by POST as form and JSON."""
    for rule in service.app.url_map.iter_rules():
        if rule.endpoint == "static":
            continue
        for path in addresses(rule):
            if "GET" in (rule.methods or ()):
                yield "GET", path, client.get(path, buffered=True)
                yield "GET", path, client.get(path, query_string=QUERY, buffered=True)
            for method in sorted((rule.methods or set()) & {"POST", "PUT", "PATCH", "DELETE"}):
                yield method, path, client.open(path, method=method, data=FORM, buffered=True)
                yield method, path, client.open(path, method=method, json=MESSAGE, buffered=True)


def own_links(service: Any, client: FlaskClient) -> list[str]:
    """Return where the pages of a grower lead, and where sending a file and a message by form leads."""
    found: dict[str, None] = {}
    led_to: list[str] = []
    for rule in service.app.url_map.iter_rules():
        if rule.arguments or rule.endpoint.startswith(("static", "sign_in")):
            continue
        if "GET" in (rule.methods or ()):
            text = text_of(client.get(rule.rule, buffered=True))
            found |= dict.fromkeys(re.findall(r'(?:href|src|action)="(/[^"]*)"', text))
        if "POST" in (rule.methods or ()):
            rows = {
                name: (io.BytesIO(b"name,words\nnew bed,quillword\n"), "quillword.csv") for name in ("file", "files")
            }
            answer = client.post(rule.rule, data={"text": "help, quillword"} | rows, buffered=True)
            led_to += answer.headers.getlist("Location")
    links = [html.unescape(link) for link in found if not link.startswith(("/static/", "/sign-"))]
    apart = {re.sub(r"[0-9]+", "1", link): link for link in links}  # of links that differ in a number, the last
    return led_to + list(apart.values())[:MOST_LINKS]


def text_of(answer: Any) -> str:
    """Return all that an answer says: its headers, and its body with what is packed in it."""
    body = answer.get_data()
    if zipfile.is_zipfile(io.BytesIO(body)):
        with zipfile.ZipFile(io.BytesIO(body)) as packed:
            body = b"".join(name.encode() + packed.read(name) for name in packed.namelist())
    return str(answer.headers) + body.decode("utf-8", "replace")


def rows(service: Any, who: str) -> dict[str, int]:
    """Count the rows of a grower's file, by table."""
    conn = sqlite3.connect(service.folder / f"{service.growers[who]}.db")
    names = [name for (name,) in conn.execute("SELECT name FROM sqlite_master WHERE type = 'table'")]
    counts = {name: conn.execute(f'SELECT COUNT(*) FROM "{name}"').fetchone()[0] for name in names}
    conn.close()
    return counts


@pytest.fixture
def told(service: Any) -> Any:
    """The service after the first grower asked something."""
    answer = service.program("quill").post("/messages", json={"text": QUESTION, "id": "quill-message"})
    assert answer.status_code == 200
    return service


def test_the_crawl_would_find_something(told: Any) -> None:
    """The first grower's own crawl meets the words that the second's must not."""
    texts = " ".join(text_of(answer) for _, _, answer in crawl(told, told.program("quill")))
    assert "Quillbarrow" in texts and "quillgate" in texts


@pytest.mark.parametrize("way", ["program", "browser"])
def test_another_grower_finds_nothing(told: Any, way: str) -> None:
    """Every route, by every method, with the first grower's ids and names: no word comes, and no row changes."""
    before = rows(told, "quill")
    client = told.program("quoin") if way == "program" else told.browser("quoin")
    count = 0
    for method, path, answer in crawl(told, client):
        if path == "/sign-out" and method == "POST" and way == "browser":
            client = told.browser("quoin")
        text = text_of(answer)
        found = [word for word in SECRETS if word.lower() in text.lower()]
        assert not found, f"{method} {path}: {found}"
        assert answer.status_code != 500, f"{method} {path}"
        count += 1
    assert count > 20
    assert rows(told, "quill") == before


@pytest.mark.parametrize("who", ["quoin", ""])
def test_another_growers_links_lead_nowhere(told: Any, who: str) -> None:
    """Where a grower's own pages lead, and what they sent is kept under, another finds nothing of it; nobody does."""
    links = own_links(told, told.browser("quill"))
    assert links
    client = told.browser(who)
    for link in links:
        answer = client.get(link, buffered=True)
        text = text_of(answer).lower()
        words = [word.lower() for word in SECRETS if word.lower() not in unquote(link).lower()]
        assert not [word for word in words if word in text], link
        assert who or answer.status_code in (303, 401) or link.startswith(OPEN), link


@pytest.mark.parametrize("way", ["program", "browser"])
def test_nobody_finds_nothing(told: Any, way: str) -> None:
    """Without a key every route is refused or leads to signing in, but those that show nothing of any garden."""
    before = {who: rows(told, who) for who in told.growers}
    client = told.program() if way == "program" else told.browser()
    for method, path, answer in crawl(told, client):
        text = text_of(answer)
        assert not [word for word in (*SECRETS, "Quoinbarrow", "quoingate") if word.lower() in text.lower()], path
        endpoint = told.app.url_map.bind("localhost").match(path, method=method)[0]
        view = told.app.view_functions[endpoint]
        if getattr(view, "no_key_needed", False) or getattr(view, "this_machine_only", False):
            continue
        if method == "GET" and way == "browser" and not path.startswith(API):
            assert answer.status_code == 303 and answer.headers["Location"].startswith("/sign-in"), path
        else:
            assert answer.status_code == 401 and answer.headers["WWW-Authenticate"].startswith("Bearer"), path
    assert {who: rows(told, who) for who in told.growers} == before


def test_a_message_of_another_is_not_there(told: Any) -> None:
    """Its id answers as one that was never used, and the second grower can use it for a message of their own."""
    quoin = told.program("quoin")
    assert quoin.get("/messages/quill-message").status_code == 404
    assert quoin.post("/messages", json={"text": "help", "id": "quill-message"}).status_code == 200
    kept = told.program("quill").get("/messages/quill-message").get_json()
    assert kept["question"]["kind"] == "frost-tonight"


def test_health_is_open_and_says_nothing_of_a_garden(service: Any) -> None:
    """Whoever watches the service needs no key, and learns no place; a grower learns their own."""
    assert set(service.program().get("/health").get_json()) == {"status", "rules"}
    assert service.program("quoin").get("/health").get_json()["place"] == "Quoinbarrow"


def test_counts_are_for_this_machine(service: Any) -> None:
    """What is counted of all growers together is told to the machine itself, and to no grower."""
    elsewhere = {"REMOTE_ADDR": "192.0.2.7"}
    assert service.program().get("/metrics").status_code == 200
    assert service.program("quoin").get("/metrics", environ_overrides=elsewhere).status_code == 404
    assert service.program().get("/metrics", environ_overrides=elsewhere).status_code == 404


def test_equal_rows_under_other_names_are_kept_apart(service: Any) -> None:
    """Two gardens with the same weather ask in turn; each gets what it gets alone, in its own names."""
    texts = ("why is the {}shed fig late?", "where do I put a new apricot?", "when was the last frost?", "what next?")
    gardens = {who: service.program(who) for who in service.growers}
    for n, text in enumerate(texts):
        said = {}
        for turn in range(2):
            for who, client in gardens.items():
                sent = {"text": text.format(who), "id": f"{turn}-{n}"}
                reply = client.post("/messages", json=sent).get_json()
                other = "quoin" if who == "quill" else "quill"
                whole = json.dumps({**reply, "id": ""})
                assert other not in whole.lower()
                said.setdefault(who, whole)
                assert turn or whole == said[who]
        assert said["quill"].replace("quill", "").replace("Quill", "") == said["quoin"].replace("quoin", "").replace(
            "Quoin", ""
        )


GARDENS_OWN = ("Garden", "Scene", "Records", "Fact", "Path", "Speech", "Message", "Words", "NamedPlant")


CORE = ("advisor.reasoning.engine.durable",)
"""What can be imported only where the compiled core is installed."""


def kept_functions() -> list[Any]:
    """Return every function of ours whose results are kept for the process."""
    found = []
    for module in pkgutil.walk_packages([str(TOP)], "advisor."):
        if module.name in CORE and find_spec("durable_rules_engine") is None:
            continue
        for value in vars(importlib.import_module(module.name)).values():
            if type(value).__name__ == "_lru_cache_wrapper" and value not in found:
                found.append(value)
    return found


def test_what_is_kept_is_kept_by_values() -> None:
    """No function that keeps its results takes a garden, a record, a file or a name's owner: equal values, equal
    results, whoever asks."""
    kept = kept_functions()
    assert len(kept) > 10
    for function in kept:
        hints = get_type_hints(function.__wrapped__)
        said = " ".join(str(hint) for name, hint in hints.items() if name != "return")
        assert not [name for name in GARDENS_OWN if re.search(rf"\b{name}\b", said)], function


def test_pages_reach_gardens_by_their_site() -> None:
    """No page and no route opens the garden of the settings: they would open it for everybody."""
    modules = [path for part in ("page", "api") for path in (TOP / "doors" / part).rglob("*.py")]
    modules.append(TOP / "doors" / "http.py")
    around = re.compile(r"adviser\.open\((create=|\))|settings\.garden|adviser\.message\((?!.*garden_path)")
    found = {
        f"{path.name}: {line.strip()}"
        for path in modules
        for line in path.read_text(encoding="utf-8").splitlines()
        if around.search(line)
    }
    assert found == {
        "frame.py: return several.garden_path() if several else self.adviser.settings.garden",
    }


def test_who_forgets_to_ask_whose_garden_finds_none(service: Any) -> None:
    """A route that opens the settings' garden, or asks for one without a key, gets none rather than another's."""

    def forgetful() -> str:
        with site().adviser.open(create=True) as garden:
            return garden.place().text("name")

    @no_key_needed
    def careless() -> str:
        with site().open() as garden:
            return garden.place().text("name")

    service.app.add_url_rule("/forgetful", "forgetful", forgetful)
    service.app.add_url_rule("/careless", "careless", careless)
    assert service.program("quill").get("/forgetful").status_code == 503
    assert service.program().get("/careless").status_code == 401
