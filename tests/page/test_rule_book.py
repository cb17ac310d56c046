"""The rule book: finding rules, each rule's page, the kinds, the sources and the trees they speak of."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import replace
from datetime import timedelta
from html import unescape
from pathlib import Path
from urllib.parse import quote

import pytest
from flask.testing import FlaskClient
from tests_shared import NOON

from advisor.config import find_rules
from advisor.conversation import Adviser
from advisor.doors.http import create_app
from advisor.records.importing import import_path

COOL = "a-cool-spring-holds-all-back"
ODD = [
    "<b>",
    "a/b",
    "é ø 漢字",
    "\"'`",
    "' OR 1=1 --",
    "%00",
    "{{ 7*7 }}",
    "x" * 5000,
    "\u202egif",
    "1.5",
    "-",
    "()*+[",
]


def text_of(client: FlaskClient, path: str, status: int = 200) -> str:
    answer = client.get(path)
    assert answer.status_code == status, path
    return answer.get_data(as_text=True)


def found(page: str) -> list[str]:
    """Return the ids of the rules that a page lists, in order."""
    return re.findall(r'<li><a href="/rules/([^"/?]+)">', page)


@pytest.fixture
def us_client(adviser: Adviser, tmp_path: Path) -> Iterator[FlaskClient]:
    """A client to a garden whose grower measures in US units."""
    own = replace(adviser, settings=replace(adviser.settings, garden=tmp_path / "us.db"))
    with own.open(create=True) as garden:
        import_path(garden, find_rules().parent / "fixtures" / "demo_us", adviser.lore, NOON + timedelta(days=3))
    with create_app(own, lambda: NOON).test_client() as client:
        client.environ_base["HTTP_ACCEPT"] = "text/html"
        yield client


@pytest.fixture
def empty_client(adviser: Adviser, tmp_path: Path) -> Iterator[FlaskClient]:
    """A client to a garden in which nothing is recorded, not even where it lies."""
    own = replace(adviser, settings=replace(adviser.settings, garden=tmp_path / "empty.db"))
    with own.open(create=True):
        pass
    with create_app(own, lambda: NOON).test_client() as client:
        client.environ_base["HTTP_ACCEPT"] = "text/html"
        yield client


def test_the_list_holds_every_rule_once_and_is_light(client: FlaskClient, adviser: Adviser) -> None:
    """Every rule is listed under its topic with its claim, and the page stays under 100 kB."""
    page = text_of(client, "/rules")
    assert sorted(found(page)) == sorted(adviser.base.rules)
    assert len(page.encode()) < 100_000
    assert all(rule.says in unescape(page) for rule in adviser.base.rules.values())


def test_every_rule_has_a_page(client: FlaskClient, adviser: Adviser) -> None:
    """Each of them renders with its claim, mechanism, cautions, sources, conditions, and as many cases as it has."""
    for rule in adviser.base.rules.values():
        page = unescape(text_of(client, f"/rules/{rule.id}"))
        for part in (rule.says, rule.how_it_works, *rule.cautions, *(source.backs for source in rule.sources)):
            assert part in page, (rule.id, part)
        assert page.count("/try?case=") == len(rule.cases)
        main = page[page.index("<main") :]
        assert not re.search(r"\{\w+|\b\w+_\w+\b(?![^<]*>)|\(not known\)", re.sub(r"<[^>]+>", " ", main)), rule.id


@pytest.mark.parametrize(
    ("typed", "first"),
    [
        ("open the mulch late waker", "open-the-mulch-of-a-late-waker"),
        ("mulsh late waker", "open-the-mulch-of-a-late-waker"),
        ("aprocot wall", None),
        ("Drepper", COOL),
        (COOL, COOL),
        ("COOL SPRING holds", COOL),
    ],
)
def test_words_are_found_through_small_slips(client: FlaskClient, typed: str, first: str | None) -> None:
    """A search goes through claim, mechanism, cautions, sources and id, and bears a slip of the finger."""
    ids = found(text_of(client, f"/rules?q={quote(typed)}"))
    assert ids and (first is None or first in ids[:3])


def test_a_number_is_looked_for_as_it_is(client: FlaskClient, adviser: Adviser) -> None:
    """Figures are not guessed at: what is near 38 is no 38."""
    ids = found(text_of(client, "/rules?q=38"))
    assert ids and "a-hot-pot-cooks-the-roots-at-its-wall" in ids
    for one in ids:
        rule = adviser.base.rules[one]
        said = " ".join([rule.says, rule.how_it_works, *rule.cautions, *(f"{s.cite} {s.backs}" for s in rule.sources)])
        assert "38" in said


def test_filters_narrow_the_list(client: FlaskClient, adviser: Adviser) -> None:
    """Topic, strength, conclusion and question each keep to the rules that have it, and they add up."""
    rules = adviser.base.rules
    for query, keeps in (
        ("topic=soil", {key for key, rule in rules.items() if rule.topic == "soil"}),
        ("strength=disputed", {key for key, rule in rules.items() if rule.strength == "disputed"}),
        ("concludes=bar", {key for key, rule in rules.items() if rule.conclude == "bar"}),
        ("question=why-late", set(adviser.engine_of("why-late")[0].rules)),
        ("topic=soil&concludes=task",
         {key for key, rule in rules.items() if rule.topic == "soil" and rule.conclude == "task"}),
        ("here=yes", set()),
        ("own=yes", set()),
        ("question=nonsense", set()),
    ):  # fmt: skip
        assert set(found(text_of(client, f"/rules?{query}"))) == keeps, query


@pytest.mark.parametrize("typed", ODD)
def test_odd_words_are_searched_and_shown_as_they_are(client: FlaskClient, typed: str) -> None:
    """Whatever is typed, the page comes, escapes it and says how many rules it found."""
    page = text_of(client, f"/rules?q={quote(typed)}")
    assert "found</h2>" in page and "<b>" not in page and "49" not in page.split("found</h2>")[0][-20:]
    assert len(typed) < 5000 or "Only the first 200 characters" in page


@pytest.mark.parametrize(
    "path", ["/rules/{}", "/rules/{}/try", "/rules/{}/here", "/rules/kinds/{}", "/rules/species/{}"]
)
@pytest.mark.parametrize("name", ["nothing-of-the-kind", "<b>", "é", "'\"", "x" * 3000])
def test_what_is_not_there_says_so(client: FlaskClient, path: str, name: str) -> None:
    """An unknown rule, kind or tree is a page that says so, with nothing of its name left unescaped."""
    page = text_of(client, path.format(quote(name, safe="")), 404)
    assert "What to do" in page and "<b>" not in page and len(page) < 10_000


def test_what_it_says_of_a_rule(client: FlaskClient) -> None:
    """Conditions, what the unknown does, the conclusion, an example, how far a source was read, how it is judged."""
    page = unescape(text_of(client, f"/rules/{COOL}"))
    for part in (
        "The plant is not awake yet.",
        "this year's warmth so far is at most 85 % of the usual",
        "Where no record tells, the rule speaks all the same, one grade weaker, and the record is asked for.",
        "Where no record tells, it counts as not so.",
        "a cause: cool spring",
        "The season is behind: 30 °C-days of warmth above 10 °C so far, 75 % of the usual.",
        "(its abstract was read)",
        "Why is this plant late, or still asleep?",
        "It has not spoken here yet.",
        "speaks: possible",
        "kin awake",
    ):
        assert part in page, part


def test_opposite_advice_and_later_records_are_told(client: FlaskClient, adviser: Adviser) -> None:
    """A rule that gives way, and one that is taken, say so with the reason; what shows that it held is told."""
    pair = adviser.opposites[0]
    page_of = {
        claim: unescape(text_of(client, f"/rules/{key}"))
        for key, rule in adviser.base.rules.items()
        if (claim := rule.gives.get("what") or rule.gives.get("claim")) in (pair.take, pair.leave, "open-the-mulch")
    }
    assert f"This is taken before “{pair.leave.replace('-', ' ')}”: {pair.why}." in page_of[pair.take]
    assert f"This gives way to “{pair.take.replace('-', ' ')}”" in page_of[pair.leave]
    assert (
        "It counts as followed where a cover of the spot is recorded (by its taken off date)."
        in page_of["open-the-mulch"]
    )
    assert "Records of the 28 days after it are asked" in page_of["open-the-mulch"]


def test_us_growers_see_their_units(us_client: FlaskClient) -> None:
    """A threshold in degrees and one in centimetres stand in Fahrenheit and inches, on rules, kinds and trees."""
    pot = text_of(us_client, "/rules/a-hot-pot-cooks-the-roots-at-its-wall")
    assert "100.4 °F or warmer" in pot
    conditions = text_of(us_client, f"/rules/{COOL}").split("What it concludes")[0]
    assert "72 °F-days" in conditions and "°C" not in conditions
    assert "°F" in text_of(us_client, "/rules/kinds/recent_air")
    assert "°F" in text_of(us_client, "/rules/species/apricot")


def test_an_empty_garden_has_the_whole_book(empty_client: FlaskClient) -> None:
    """Where nothing is recorded, not even a place, rules can be read and tried; the garden has nothing to try them on."""
    assert len(found(text_of(empty_client, "/rules"))) == 379
    assert "It has not spoken here yet." in text_of(empty_client, f"/rules/{COOL}")
    assert "It speaks." in text_of(empty_client, f"/rules/{COOL}/try")
    assert "nothing to try it on" in text_of(empty_client, f"/rules/{COOL}/here")


def test_its_history_in_this_garden_leads_to_the_advice(adviser: Adviser, demo_copy: Path) -> None:
    """Advice of the day before is listed with what came of it and a link to its row; the list and a filter know it too."""
    own = replace(adviser, settings=replace(adviser.settings, garden=demo_copy))
    own.message({"text": "why is the shed fig late?"}, NOON)
    with create_app(own, lambda: NOON + timedelta(days=3)).test_client() as client:
        client.environ_base["HTTP_ACCEPT"] = "text/html"
        spoken = found(text_of(client, "/rules?here=yes"))
        assert spoken
        page = text_of(client, f"/rules/{spoken[0]}")
        with own.open(demo_copy) as garden:
            rows = {row.origin.row_ids[0] for row in garden.of("advice")}  # type: ignore[union-attr]
        linked = {int(one) for one in re.findall(r'href="/records/advice/(\d+)"', page)}
        assert linked and linked <= rows
        assert "given 1 time here" in text_of(client, "/rules")


def test_own_rules_are_the_grower_s(adviser: Adviser, demo_copy: Path, tmp_path: Path) -> None:
    """A rule of the grower's is named so and can be filtered; one under an id of ours tells what ours says."""
    folder = tmp_path / "mine" / "waking"
    folder.mkdir(parents=True)
    ours = (find_rules() / "waking" / f"{COOL}.toml").read_text(encoding="utf-8")
    says = 'says         = "In my <b>garden</b> a cool spring holds everything back."'
    mine = re.sub(r"^says .*$", says, ours, count=1, flags=re.MULTILINE)
    (folder / f"{COOL}.toml").write_text(mine, encoding="utf-8")
    other = mine.replace(f'"{COOL}"', '"my-own-rule"', 1).replace("a cool spring", "a cold spring", 1)
    (folder / "my-own-rule.toml").write_text(other, encoding="utf-8")
    settings = replace(adviser.settings, garden=demo_copy, own_rules=tmp_path / "mine")
    with create_app(Adviser.load(settings), lambda: NOON).test_client() as client:
        client.environ_base["HTTP_ACCEPT"] = "text/html"
        page = text_of(client, "/rules?own=yes")
        assert set(found(page)) == {COOL, "my-own-rule"}
        assert "&lt;b&gt;garden" in page and "yours for mine" in page
        stands = unescape(text_of(client, f"/rules/{COOL}"))
        assert "It stands in place of mine of the same name, which says: " + adviser.base.rules[COOL].says in stands
        alone = text_of(client, "/rules/my-own-rule")
        assert "This is a rule of your own." in alone and "in place of mine" not in alone


def test_the_kinds_are_told(client: FlaskClient, adviser: Adviser) -> None:
    """Every kind is listed and has a page with its fields, and the rules that look at it."""
    listed = text_of(client, "/rules/kinds")
    for name, kind in adviser.base.kinds.items():
        assert f'href="/rules/kinds/{name}"' in listed
        page = unescape(text_of(client, f"/rules/kinds/{name}"))
        assert kind.says in page and page.count("<tr>") == len(kind.fields) + 1


def test_every_published_work_is_listed_with_its_rules(client: FlaskClient, adviser: Adviser) -> None:
    """The sources name each cited work once, and every rule that cites it; a rule's page leads to the right one."""
    page = unescape(text_of(client, "/rules/sources"))
    works = {source.cite for rule in adviser.base.rules.values() for source in rule.sources if source.is_published}
    numbered = dict(re.findall(r'<li id="s(\d+)">([^\n]*)', page))
    assert sorted(numbered.values()) == sorted(works)
    link = re.search(r'/rules/sources#s(\d+)">', text_of(client, f"/rules/{COOL}"))
    assert link and numbered[link[1]].startswith("Drepper")
    for rule in adviser.base.rules.values():
        if any(source.is_published for source in rule.sources):
            assert f'href="/rules/{rule.id}"' in page


def test_every_tree_tells_what_is_known_and_what_is_not(client: FlaskClient, adviser: Adviser) -> None:
    """Each kind of tree has its traits; gaps of what was looked for are told, and tables hold every published stage."""
    for one in adviser.lore.species.values():
        page = unescape(text_of(client, f"/rules/species/{one.id}"))
        assert one.botanical in page
        for gap in adviser.lore.needs.gaps:
            assert gap.kind != one.id or gap.says[1:] in page
        table = adviser.lore.hardiness.buds.get(one.id)
        frost = page.split("What frost it stands")[1].split("What cold and warmth")[0]
        assert frost.count("°C</td>") + frost.count("not published</td>") == 2 * len(table.stages if table else ())
        assert not re.search(r"\bNone\b|\bTrue\b|\bFalse\b", page)
