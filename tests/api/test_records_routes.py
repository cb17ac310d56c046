"""Records through the API: read by the page, added once, put right, taken out of use and brought back."""

from __future__ import annotations

import threading
from collections.abc import Iterator
from typing import Any

import pytest
from flask import Flask
from flask.testing import FlaskClient

Body = dict[str, Any]


def pages(api: FlaskClient, path: str) -> Iterator[Body]:
    """Yield the pages of a list, each as the one before says where it is."""
    link: str | None = path
    while link:
        page = api.get(link).get_json()
        yield page
        link = page["next"]


def count(api: FlaskClient, kind: str) -> int:
    total = api.get(f"/v1/records/{kind}?state=all").get_json()["total"]
    assert isinstance(total, int)
    return total


def test_a_list_by_the_page_has_each_row_once(api: FlaskClient, reading: Body) -> None:
    """Following next leads through all rows, what holds last first, also where rows come in meanwhile."""
    whole = api.get("/v1/records/soil_reading?limit=200").get_json()
    found: list[int] = []
    for number, page in enumerate(pages(api, "/v1/records/soil_reading?limit=20")):
        found += [row["id"] for row in page["records"]]
        reading["values"]["temp_c"] = 13.0 + number
        assert api.post("/v1/records/soil_reading", json=reading).status_code == 201
    assert found == [row["id"] for row in whole["records"]] and len(found) == whole["total"] == len(set(found))
    times = [row["values"]["at"] for row in whole["records"]]
    assert times == sorted(times, reverse=True)


def test_a_list_is_narrowed(api: FlaskClient) -> None:
    """By plant without regard to capitals, by days with both ends, by whether rows are in use."""
    path = "/v1/records/stage?plant=SHED%20fig&since=2026-01-01&until=2026-04-24&limit=200"
    rows = api.get(path).get_json()["records"]
    assert rows and {row["values"]["plant"] for row in rows} == {"shed fig"}
    days = {row["values"]["on"] for row in rows}
    assert min(days) >= "2026-01-01" and max(days) <= "2026-04-24"
    one = rows[0]["href"]
    assert api.post(f"{one}/retire", json={"reason": "wrong tree"}).status_code == 200
    assert rows[0]["id"] not in [row["id"] for row in api.get(path).get_json()["records"]]
    out = api.get("/v1/records/stage?state=out-of-use").get_json()
    assert [row["id"] for row in out["records"]] == [rows[0]["id"]] and out["total"] == 1


@pytest.mark.parametrize(
    ("query", "field"),
    [
        ("plant=nobodys", "plant"), ("spot=shed%20bed", "spot"), ("since=yesterday", "since"), ("until=2026-02-30", "until"),
        ("limit=0", "limit"), ("limit=201", "limit"), ("state=both", "state"), ("after=x", "after"), ("sinse=2026-01-01", "sinse"),
    ],
)  # fmt: skip
def test_what_cannot_narrow_is_refused(api: FlaskClient, query: str, field: str) -> None:
    """A name that is not recorded, a field that the kind has not, a slip in a name: said, and not passed over."""
    answer = api.get(f"/v1/records/stage?{query}")
    assert answer.status_code == 422
    assert [one["field"] for one in answer.get_json()["faults"]] == [field]


def test_a_day_narrows_nothing_that_has_none(api: FlaskClient) -> None:
    """A spot holds on no day, so that asking for one is refused."""
    assert api.get("/v1/records/spot?since=2026-01-01").status_code == 422


def test_a_record_added_is_read_again(api: FlaskClient, reading: Body) -> None:
    """The answer says where it is; there are its values in the units of their names, and who said it."""
    answer = api.post("/v1/records/soil_reading", json={**reading, "said_by": "Ann", "words": "probe 2"})
    assert answer.status_code == 201
    there = api.get(answer.headers["Location"]).get_json()
    assert there == answer.get_json()["record"]
    assert there["values"] == {
        "spot": "shed bed", "at": "2026-04-24T09:30:00+00:00", "temp_c": 12.5, "depth_cm": 10.0
    }  # fmt: skip
    assert (there["said"]["by"], there["said"]["via"], there["words"]) == ("Ann", "api", "probe 2")


def test_the_reasoning_sees_it(api: FlaskClient, reading: Body) -> None:
    """What was sent by a program stands in the garden of the same day."""
    api.post("/v1/records/soil_reading", json=reading)
    spots = {one["spot"]: one for one in api.get("/v1/garden?on=2026-04-24").get_json()["spots"]}
    assert (spots["shed bed"]["soil_c"], spots["shed bed"]["soil_age_days"]) == (12.5, 0)


@pytest.mark.parametrize("way", ["id", "header", "quoted header"])
def test_a_key_counts_once(api: FlaskClient, reading: Body, way: str) -> None:
    """By id or by header (plain, or quoted as structured headers are): one row, and the first answer each time."""
    headers = {"header": {"Idempotency-Key": "p-1"}, "quoted header": {"Idempotency-Key": '"p-1"'}}.get(way, {})
    sent = {**reading, **({"id": "p-1"} if way == "id" else {})}
    before = count(api, "soil_reading")
    answers = [api.post("/v1/records/soil_reading", json=sent, headers=headers) for _ in range(3)]
    assert {one.status_code for one in answers} == {201} and len({one.data for one in answers}) == 1
    assert count(api, "soil_reading") == before + 1


def test_a_key_means_one_thing(api: FlaskClient, reading: Body) -> None:
    """Another body, and another route, under a key that was used: refused, and nothing recorded."""
    first = api.post("/v1/records/soil_reading", json={**reading, "id": "p-1"})
    before = count(api, "soil_reading")
    other = {"values": {**reading["values"], "temp_c": 9.0}, "id": "p-1"}
    for answer in (
        api.post("/v1/records/soil_reading", json=other),
        api.post(f"{first.headers['Location']}/retire", json={"reason": "no", "id": "p-1"}),
    ):
        assert (answer.status_code, answer.get_json()["type"]) == (409, "urn:advisor:problem:key-reused")
    assert count(api, "soil_reading") == before
    assert api.get(first.headers["Location"]).get_json()["in_use"]


def test_a_key_that_brought_nothing_is_kept_too(api: FlaskClient, reading: Body) -> None:
    """A key under which nothing new was told still means what was sent under it."""
    assert api.post("/v1/records/soil_reading", json=reading).status_code == 201
    again = api.post("/v1/records/soil_reading", json={**reading, "id": "p-2"})
    assert (again.status_code, again.get_json()["outcome"], again.get_json()["recorded"]) == (200, "known", [])
    reading["values"]["temp_c"] = 4.0
    assert api.post("/v1/records/soil_reading", json={**reading, "id": "p-2"}).status_code == 409


def test_a_refused_body_leaves_its_key_free(api: FlaskClient, reading: Body) -> None:
    """What was refused was not done, so the mended body may be sent under the same key."""
    wrong = {"values": {**reading["values"], "spot": "shed bod"}, "id": "p-1"}
    assert api.post("/v1/records/soil_reading", json=wrong).status_code == 422
    assert api.post("/v1/records/soil_reading", json={**reading, "id": "p-1"}).status_code == 201


def test_header_and_id_may_not_differ(api: FlaskClient, reading: Body) -> None:
    """Nobody can tell which of two names is meant."""
    answer = api.post(
        "/v1/records/soil_reading", json={**reading, "id": "a"}, headers={"Idempotency-Key": "b"}
    )  # fmt: skip
    assert answer.status_code == 422


def test_sent_twice_at_once_it_counts_once(app: Flask, api: FlaskClient, reading: Body) -> None:
    """Eight threads under one key: one row, and all get the same answer."""
    before, bodies = count(api, "soil_reading"), []

    def send() -> None:
        with app.test_client() as client:
            bodies.append(client.post("/v1/records/soil_reading", json={**reading, "id": "p-1"}).data)

    threads = [threading.Thread(target=send) for _ in range(8)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert len(bodies) == 8 and len(set(bodies)) == 1
    assert count(api, "soil_reading") == before + 1


WRONG: list[tuple[str, Any]] = [
    ("temp_c", "12"), ("temp_c", True), ("temp_c", None), ("temp_c", 61), ("temp_c", 10**400), ("at", "2026-04-24T11:30"),
    ("at", "2026-04-24"), ("at", "0001-01-01T00:00:00Z"), ("at", "2031-04-24T11:30:00Z"), ("sky", "bright"),
    ("spot", "shed bod"), ("spot", 5), ("spot", ["shed bed"]), ("temp_f", 54), ("depth_cm", {"a": 1}),
]  # fmt: skip


@pytest.mark.parametrize(("field", "value"), WRONG)
def test_what_only_looks_like_a_value_is_refused(api: FlaskClient, reading: Body, field: str, value: Any) -> None:
    """A text for a number, a time without its offset, another unit, a day to come: the fault stands by its name."""
    reading["values"][field] = value
    answer = api.post("/v1/records/soil_reading", json=reading)
    assert (answer.status_code, answer.content_type) == (422, "application/problem+json")
    assert answer.get_json()["faults"][0]["field"].endswith(field)


def test_half_a_character_is_refused(api: FlaskClient, reading: Body) -> None:
    """JSON can spell half of a character; no file can hold it."""
    content = '{"values": {"plant": "shed fig", "on": "2026-04-20", "bbch": 7, "words": "\\ud800"}}'
    answer = api.post("/v1/records/stage", data=content, content_type="application/json")
    assert answer.status_code == 422 and "half a character" in answer.get_json()["found"]


def test_the_advisers_own_records_are_not_sent(api: FlaskClient) -> None:
    """What was advised is the adviser's to record."""
    assert api.post("/v1/records/advice", json={"values": {}}).status_code == 422


def test_hours_of_weather_make_their_day(api: FlaskClient) -> None:
    """A station that sends hour by hour gets its day: the answer names all that was added."""
    added: list[str] = []
    for hour in range(24):
        values = {"at": f"2026-04-20T{hour:02d}:00:00+02:00", "temp_c": 5 + hour / 2, "source": "fence logger"}
        answer = api.post("/v1/records/weather_hour", json={"values": values, "id": f"h-{hour}"})
        assert answer.status_code == 201, answer.get_json()
        assert answer.get_json()["record"]["kind"] == "weather_hour"
        added += [one["kind"] for one in answer.get_json()["recorded"]]
    assert added.count("weather_hour") == 24 and "weather_day" in added


def test_a_record_out_of_use_stays_and_comes_back(api: FlaskClient) -> None:
    """Each step stands with the record: why, when, by whom."""
    one = "/v1/records/stage/1"
    gone = api.post(f"{one}/retire", json={"reason": "wrong tree", "said_by": "Ann"}).get_json()
    back = api.post(f"{one}/restore", json={"reason": "it was right"}).get_json()
    assert (gone["in_use"], back["in_use"]) == (False, True)
    assert [(r["in_use"], r["reason"], r["said"]["by"]) for r in back["rulings"]] == [
        (False, "wrong tree", "Ann"), (True, "it was right", "")
    ]  # fmt: skip
    assert api.post(f"{one}/restore", json={"reason": "again"}).status_code == 422


def test_retiring_by_key_counts_once(api: FlaskClient) -> None:
    """Sent again after a lost answer, it gets its first answer rather than a refusal."""
    sent = {"reason": "wrong tree", "id": "r-1"}
    first, again = (api.post("/v1/records/stage/1/retire", json=sent) for _ in range(2))
    assert (first.status_code, first.data) == (again.status_code, again.data) == (200, first.data)


def test_what_others_rest_on_stays(api: FlaskClient) -> None:
    """A spot where plants stand is not taken out of use, and the refusal names what rests on it."""
    row = api.get("/v1/records/spot?spot=shed%20bed").get_json()["records"][0]
    answer = api.post(f"{row['href']}/retire", json={"reason": "gone"})
    assert answer.status_code == 422 and "rest on it" in answer.get_json()["found"]


def test_a_correction_leaves_the_old_record(api: FlaskClient, reading: Body) -> None:
    """The new one stands for it; null takes a value away; the rest is as it was."""
    old = api.post("/v1/records/soil_reading", json=reading).get_json()["record"]
    sent = {"changes": {"temp_c": 11.5, "depth_cm": None}, "reason": "misread"}
    answer = api.post(f"{old['href']}/correct", json=sent)
    assert answer.status_code == 201
    new = api.get(answer.headers["Location"]).get_json()
    assert new["values"] == {"spot": "shed bed", "at": old["values"]["at"], "temp_c": 11.5}
    before = api.get(old["href"]).get_json()
    assert (before["in_use"], before["stood_for_by"], new["stands_for"]) == (False, new["id"], old["id"])
    assert before["values"] == old["values"]


@pytest.mark.parametrize(
    "changes", [{}, {"bbch": 1}, {"bbch": None}, {"plant": "nobodys"}, {"on": "2026-4-2"}, {"temp_c": 3}, {"bbch": "7"}]
)
def test_what_corrects_nothing_is_refused(api: FlaskClient, changes: Body) -> None:
    """No change, a needed value taken away, a name or a value that cannot be; the record stays as it was."""
    before = api.get("/v1/records/stage/1").get_json()
    assert before["values"]["bbch"] == 1
    assert api.post("/v1/records/stage/1/correct", json={"changes": changes, "reason": "x"}).status_code == 422
    assert api.get("/v1/records/stage/1").get_json() == before


def test_a_name_with_anything_in_it_narrows(api: FlaskClient) -> None:
    """A spot's name may hold what addresses and pages give a meaning to."""
    for name in ("a/b", "<b>", "é 'x' \"y\"", "100%&q=1"):
        assert api.post("/v1/records/spot", json={"values": {"name": name, "aspect": "flat"}}).status_code == 201
        rows = api.get("/v1/records/spot", query_string={"spot": name}).get_json()["records"]
        assert [row["values"]["name"] for row in rows] == [name]


def test_a_grower_reaches_their_own_records(growers: Any, reading: Body) -> None:
    """The same key of two growers is two things, and neither sees the other's row."""
    upper, lower = growers.client(0), growers.client(1)
    before = count(lower, "soil_reading")
    assert upper.post("/v1/records/soil_reading", json={**reading, "id": "p-1"}).status_code == 201
    assert count(lower, "soil_reading") == before
    reading["values"]["temp_c"] = 3.0
    assert lower.post("/v1/records/soil_reading", json={**reading, "id": "p-1"}).status_code == 201
