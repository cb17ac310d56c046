"""A rule tried: its own cases through the form, facts changed past a threshold, faults by field, and on the garden."""

from __future__ import annotations

import re
from html import unescape
from html.parser import HTMLParser
from urllib.parse import quote, urlencode
from zoneinfo import ZoneInfo

import pytest
from flask.testing import FlaskClient
from werkzeug.datastructures import MultiDict

from advisor.conversation import Adviser
from advisor.doors.page.try_form import Units, form_of, read_form
from advisor.reasoning.cases import run_case
from advisor.reasoning.engine import ReferenceEngine
from advisor.reasoning.rulebase import Case
from advisor.reasoning.trying import facts_of, try_rule

COOL = "a-cool-spring-holds-all-back"
MULCH = "soil-measured-colder-under-mulch"


class Form(HTMLParser):
    """What a browser would send of the last form of a page: the successful controls of HTML, in their order."""

    def __init__(self, page: str) -> None:
        super().__init__()
        self.pairs: list[tuple[str, str]] = []
        self._select = ""
        self.feed(page)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        said = {name: value or "" for name, value in attrs}
        if tag == "form":
            self.pairs = []
        elif tag == "input" and (said.get("type") != "checkbox" or "checked" in said):
            self.pairs.append((said["name"], said.get("value", "")))
        elif tag == "select":
            self._select = said["name"]
            self.pairs.append((self._select, ""))
        elif tag == "option" and "selected" in said:
            self.pairs[-1] = (self._select, said.get("value", ""))


def text_of(client: FlaskClient, path: str, status: int = 200) -> str:
    answer = client.get(path)
    assert answer.status_code == status, path
    return unescape(answer.get_data(as_text=True))


def sent(rule: str, pairs: list[tuple[str, str]], **changes: str) -> str:
    """Return the address that a form is sent to, some of its fields changed (``f3_years`` for ``3.years``)."""
    changed = {name[1:].replace("_", ".", 1): value for name, value in changes.items() if name[1:2].isdigit()}
    plain = {name: value for name, value in changes.items() if not name[1:2].isdigit()}
    kept = [(name, {**changed, **plain}.get(name, value)) for name, value in pairs]
    return f"/rules/{rule}/try?{urlencode(kept)}"


@pytest.mark.parametrize("us", [False, True])
def test_every_case_of_every_rule_comes_out_through_the_form(adviser: Adviser, us: bool) -> None:
    """Each case typed into the form and read back fires, stays silent and lacks as its file says, in both unit systems."""
    units, wrong, count = Units(us, ZoneInfo("America/New_York"), adviser.lore.species), [], 0
    kinds = adviser.base.kinds
    for rule in adviser.base.rules.values():
        for case in rule.cases:
            form = form_of(facts_of(case), rule, kinds, units)
            posted = MultiDict([pair for one in form for pair in one.sent()])
            read = [one for one in read_form(posted, kinds, units) if one.given]
            given = tuple({"kind": one.kind.name, **one.values} for one in read)
            faults = [one.faults for one in read if one.faults]
            found = run_case(rule, Case(case.name, given, case.expect, case.lacks), adviser.base, ReferenceEngine)
            fires = bool(try_rule(rule, [one.fact for one in read], adviser.base).firings)
            if faults or found or fires != bool(case.expect):
                wrong.append((rule.id, case.name, faults, found))
            count += 1
    assert wrong == [] and count > 3000


def test_cases_come_out_through_the_page(client: FlaskClient, adviser: Adviser) -> None:
    """The first case that fires and the first that does not, sent from the page as a browser would, of each third rule."""
    for rule in list(adviser.base.rules.values())[::3]:
        for fires in (True, False):
            place = next(n for n, case in enumerate(rule.cases) if bool(case.expect) is fires)
            page = text_of(client, f"/rules/{rule.id}/try?case={place}")
            answer = text_of(client, sent(rule.id, Form(page).pairs))
            assert ("It speaks." in answer, "It stays silent." in answer) == (fires, not fires), (rule.id, place)
            assert Form(answer).pairs == Form(page).pairs, rule.id


def test_a_value_changed_past_its_threshold_says_by_how_much(client: FlaskClient) -> None:
    """At 85 % of the usual warmth the rule speaks; at 86 % it does not, and says what it wanted, found, and the gap."""
    pairs = Form(text_of(client, f"/rules/{COOL}/try?case=1")).pairs
    spoken = text_of(client, sent(COOL, pairs))
    assert "It speaks." in spoken and "Nothing is recorded" in spoken and "85 % of the usual." in spoken
    silent = text_of(client, sent(COOL, pairs, f3_usual_share="86"))
    assert "It stays silent." in silent
    assert "Wanted: this year's warmth so far is at most 85 % of the usual. Found: usual 86 %, off by 1 %." in silent
    both = text_of(client, sent(COOL, pairs, f3_usual_share="90", f3_years="2"))
    assert "off by 5 %" in both and "Wanted: at least 3 earlier years are recorded. Found: years 2, off by 1." in both


def test_a_strict_limit_met_exactly_is_said(client: FlaskClient) -> None:
    """Where a value lies just at a limit that must be passed, there is no gap to tell; that is told instead."""
    rule, field = "a-shoot-with-few-leaves-grows-on", "leaves"
    pairs = Form(text_of(client, f"/rules/{rule}/try")).pairs
    name = next(name for name, _ in pairs if name.endswith(f".{field}"))
    silent = text_of(client, f"/rules/{rule}/try?{urlencode([(n, '6' if n == name else v) for n, v in pairs])}")
    assert "Found: leaves 6, which is just the limit, and the limit is not enough." in silent


def test_what_is_not_known_is_asked_for(client: FlaskClient, adviser: Adviser) -> None:
    """A fact taken back is told as not known, with the question that would settle it, and an unless weakens."""
    pairs = Form(text_of(client, f"/rules/{COOL}/try")).pairs
    stands = next(name[:-5] for name, value in pairs if name.endswith(".kind") and value == "standing")
    less = text_of(client, sent(COOL, [(n, v) for n, v in pairs if (n, v) != ("given", stands)]))
    assert "It stays silent." in less
    assert "To know it: Where does old fig stand now, in the ground or in a pot?" in less
    kin = next(name[:-5] for name, value in pairs if name.endswith(".kind") and value == "kin_awake")
    weak = text_of(client, sent(COOL, [(n, v) for n, v in pairs if (n, v) != ("given", kin)]))
    assert "grade possible" in weak and "One grade weaker, since it is not known whether: Some or all" in weak


def test_what_stands_against_it_is_shown(client: FlaskClient) -> None:
    """An unless that is met says that it stands against the rule."""
    pairs = Form(text_of(client, f"/rules/{COOL}/try")).pairs
    name = next(name for name, _ in pairs if name.endswith(".state"))
    page = text_of(client, f"/rules/{COOL}/try?{urlencode([(n, 'some' if n == name else v) for n, v in pairs])}")
    assert "It stays silent." in page and "This is so, and stands against it." in page


@pytest.mark.parametrize(
    ("field", "typed", "said"),
    [
        ("3_usual_share", "warm", "“warm” is no number"),
        ("3_usual_share", "1e400", "“1e400” is no number"),
        ("3_years", "2.5", "“2.5” is no whole number"),
        ("1_awake", "perhaps", "“perhaps” is neither yes nor no"),
        ("2_under_cover", "<b>roof", "“<b>roof” is none of: none, shelter"),
        ("1_plant", "x" * 201, "201 characters: at most 200 are read"),
        ("1_on", "yesterday", "“yesterday” is no date: write it as 2026-04-24"),
        ("2_species", "oak", "“oak” is no kind of tree known here"),
    ],
)
def test_faulty_input_is_said_by_its_field(client: FlaskClient, field: str, typed: str, said: str) -> None:
    """What cannot be read is not run: its fault stands by its field, and what was typed stays."""
    pairs = Form(text_of(client, f"/rules/{COOL}/try")).pairs
    name = field.replace("_", ".", 1)
    pairs = [(n, typed if n == name else v) for n, v in pairs]
    answer = client.get(f"/rules/{COOL}/try?{urlencode(pairs)}")
    raw = answer.get_data(as_text=True)
    page = unescape(raw)
    assert answer.status_code == 200 and "<b>roof" not in raw
    assert page.count(said) == 2 and "It speaks." not in page and "The rule was not run" in page
    fault = raw.split(f'id="f-{name}-fault">')[1].split("</p>")[0]
    assert said in unescape(fault)
    choice = typed in ("perhaps", "<b>roof", "oak")
    assert choice or (name, typed) in Form(raw).pairs


@pytest.mark.parametrize(
    "query",
    ["units=metric", "units=us&1.kind=nothing&given=1", "units=x&9999999.kind=standing", "case=-1", "case=99999999999",
     "case=x", "units=metric&a.kind=standing&given=a", "units=metric&²" + ".kind=standing",
     "units=metric&" + "&".join(f"{n}.kind=standing&given={n}" for n in range(1, 300))],
)  # fmt: skip
def test_odd_addresses_do_no_harm(client: FlaskClient, query: str) -> None:
    """An address made up or cut short shows the page with what can be read of it."""
    page = text_of(client, f"/rules/{COOL}/try?{query}")
    assert "What the rule makes of it" in page
    assert page.count("<legend>") <= 40


def test_a_link_means_the_same_in_other_units(client: FlaskClient, adviser: Adviser) -> None:
    """An address made in a US garden is read in its own units and shown in those of the garden that opens it."""
    us = Units(True, ZoneInfo("UTC"), adviser.lore.species)
    rule = adviser.base.rules[MULCH]
    form = form_of(facts_of(rule.cases[0]), rule, adviser.base.kinds, us)
    pairs = [("units", "us"), *(pair for one in form for pair in one.sent())]
    page = text_of(client, f"/rules/{MULCH}/try?{urlencode(pairs)}")
    shown = dict(Form(page).pairs)
    warmer = next(value for name, value in shown.items() if name.endswith("warmer_by_k"))
    assert shown["units"] == "metric" and "It speaks." in page
    given = next(fact["warmer_by_k"] for fact in rule.cases[0].given if "warmer_by_k" in fact)
    assert float(warmer) == given


def test_all_rules_together_answer_from_these_facts(client: FlaskClient, adviser: Adviser) -> None:
    """Of each third rule, the question that it serves can be put to all rules with the facts of its case."""
    told = 0
    for rule in list(adviser.base.rules.values())[::3]:
        page = text_of(client, f"/rules/{rule.id}/try")
        questions = re.findall(r'<option value="([a-z-]+)"', page.split('id="also"')[1]) if 'id="also"' in page else []
        for question in questions[:1]:
            answer = text_of(client, sent(rule.id, Form(page).pairs, also=question))
            told += "What all rules together would answer" in answer
    assert told > 115


def test_the_second_view_tells_what_this_rule_would(client: FlaskClient) -> None:
    """What the rule alone tells is in what all rules answer, since nothing else speaks on these facts."""
    pairs = Form(text_of(client, f"/rules/{COOL}/try")).pairs
    answer = text_of(client, sent(COOL, pairs, also="why-late"))
    whole = answer.split("What all rules together would answer")[1]
    assert "30 °C-days of warmth above 10 °C so far" in whole


def test_on_the_garden_it_agrees_with_the_answer(client: FlaskClient, adviser: Adviser) -> None:
    """For the plants of the demo: a rule speaks on its page just where the garden's own answer cites it."""
    for plant in ("shed fig", "wall fig"):
        asked = client.post("/messages", json={"text": f"why is the {plant} so slow to wake?"})
        cited = {one["rule"] for one in asked.get_json()["because"]}
        assert cited or plant == "wall fig"
        why_late = [key for key, rule in adviser.base.rules.items() if rule.conclude == "cause"]
        for key in why_late:
            page = text_of(client, f"/rules/{key}/here?plant={quote(plant)}")
            assert ("It speaks." in page) >= (key in cited), (plant, key)
            assert ("It speaks." in page) != ("It stays silent." in page)


def test_on_the_garden_it_names_the_records(client: FlaskClient) -> None:
    """Under each condition stand the records that it rests on, as links; a rule that speaks tells its sentence."""
    page = text_of(client, f"/rules/{COOL}/here?plant=shed+fig")
    assert "It stays silent." in page and "This is so, and stands against it." in page
    assert re.search(r'href="/records/stage/\d+"', page)


def test_on_the_garden_an_unknown_plant_is_refused(client: FlaskClient) -> None:
    """A plant that is not recorded is said to be none; what it was called comes back escaped."""
    answer = client.get(f"/rules/{COOL}/here?plant={quote('<b>')}")
    assert answer.status_code == 404 and "<b>" not in answer.get_data(as_text=True)


def test_nothing_is_recorded(client: FlaskClient, adviser: Adviser) -> None:
    """Reading, trying and trying on the garden leave its file as it was."""
    own = client.application.extensions["advisor"].adviser
    with own.open() as garden:
        before = list(garden.db.conn.iterdump())
    for path in (f"/rules/{COOL}", f"/rules/{COOL}/try", f"/rules/{COOL}/here?plant=shed+fig"):
        text_of(client, path)
    with own.open() as garden:
        assert list(garden.db.conn.iterdump()) == before
