"""Three hosts behind nginx: each grower's messages go to their own host; one moves, one host dies, nobody else notices."""

from __future__ import annotations

import http.client
import sys
from contextlib import closing
from pathlib import Path
from urllib.parse import urlencode

sys.path.append(str(Path(__file__).resolve().parents[1] / "bench"))
from scale import NAMES, Three, Told, back_up, bring_back, move, three
from served import Known, until

from advisor.doors.access.keys import new_secret, written

GROWERS = 60


def test_three_hosts(nginx: str, demo_file: Path, tmp_path: Path) -> None:
    """Messages stick to their host; a move loses none; a lost host's growers are back elsewhere, the others undisturbed.

    What was told to the lost host since its backup would be lost with its disk, so nothing is told between the two.
    """
    with three(tmp_path, nginx, demo_file, GROWERS) as hosts:
        told = Told(hosts.port)
        everyone = [one for known in hosts.known.values() for one in known]
        assert len(everyone) == GROWERS and all(hosts.known.values())
        for one in everyone:
            assert told.send(one, "first", "soil shed bed 11.5 10cm") == 200
        for name in NAMES:
            for one in hosts.known[name]:
                assert hosts.host_of_only(one.id) == name == hosts.hosts.host_of(one.id)

        sign_in_through_nginx(hosts, hosts.known["b"][0])

        mover = hosts.known["a"].pop(0)
        with told.sending("moving", [mover], 0.02):
            until(lambda: len(told.answers[mover.id]) > 5, "some answers at the old host")
            move(hosts, mover.id, "a", "b")
            until(lambda: on_from_there(hosts, mover.id), "an answer at the new host")
        hosts.known["b"].append(mover)
        put_off = {status for grower, status in told.others if grower == mover.id}
        assert put_off <= {503} and len(told.others) == sum(grower == mover.id for grower, _ in told.others)
        heard = told.answers[mover.id]
        assert len(heard) > 5 and {key: hosts.kept("b", mover.id).get(key) for key in heard} == heard
        assert on_from_there(hosts, mover.id)

        back_up(hosts, "c")
        told.others.clear()
        lost = hosts.known["c"]
        staying = [one for name in "ab" for one in hosts.known[name]]
        with told.sending("staying", staying, 0.05):
            hosts.kill("c")
            assert told.send(lost[0], "while-away", "help") == 503
            bring_back(hosts, "c", ("a", "b"))
        assert {grower for grower, _ in told.others} == {lost[0].id}
        for one in lost:
            assert told.send(one, "first", "something else") == 200
            assert told.send(one, "again", "soil shed bed 12.5 10cm") == 200
        for one in everyone:
            kept = hosts.kept(hosts.hosts.host_of(one.id), one.id)
            assert {key: kept.get(key) for key in told.answers[one.id]} == told.answers[one.id]
            assert list(told.answers[one.id]).count("first") == 1


def on_from_there(hosts: Three, grower: str) -> bool:
    """Return whether a phone went on at the new host: there are answers that the old one has not."""
    return bool(set(hosts.kept("b", grower)) - set(hosts.kept("a", grower)))


def sign_in_through_nginx(hosts: Three, grower: Known) -> None:
    """A browser without a cookie is sent to the host of its key, and stays there; a wrong key is said to be one."""
    ours = {"Accept": "text/html", "Origin": f"http://localhost:{hosts.port}", "Sec-Fetch-Site": "same-origin"}

    def ask(method: str, path: str, form: dict[str, str] | None = None, cookie: str = "") -> http.client.HTTPResponse:
        head = {**ours, "Host": f"localhost:{hosts.port}", "Cookie": cookie}
        head |= {"Content-Type": "application/x-www-form-urlencoded"} if form else {}
        with closing(http.client.HTTPConnection("127.0.0.1", hosts.port, timeout=60)) as line:
            line.request(method, path, urlencode(form) if form else None, head)
            answer = line.getresponse()
            answer.text = answer.read().decode()  # type: ignore[attr-defined]  # kept for the test
            return answer

    assert ask("GET", "/").status == 303
    sent = ask("POST", "/sign-in", {"key": grower.key})
    place = str(sent.headers["Set-Cookie"]).partition(";")[0]
    assert (sent.status, sent.headers["Location"], place) == (307, "/sign-in?placed=1", f"grower={grower.id[1:]}.")
    signed = ask("POST", "/sign-in?placed=1", {"key": grower.key}, place)
    assert signed.status == 303 and "Clear-Site-Data" not in signed.headers
    session = str(signed.headers["Set-Cookie"]).partition(";")[0]
    assert session.startswith(place) and len(session) > len(place) + 40
    assert ask("GET", "/", cookie=session).status == 200
    assert ask("GET", "/health", cookie=session).text.count('"place"') == 1  # type: ignore[attr-defined]
    unknown = ask("POST", "/sign-in?placed=1", {"key": written(new_secret(grower.id))}, place)
    assert unknown.status == 422
    elsewhere = {"key": hosts.known["c"][0].key}
    other = ask("POST", "/sign-in", elsewhere, session)
    there = str(other.headers["Set-Cookie"]).partition(";")[0]
    signed = ask("POST", "/sign-in?placed=1", elsewhere, there)
    assert signed.status == 303 and "storage" in str(signed.headers["Clear-Site-Data"])
    for path in ("/metrics", "/ready"):
        assert ask("GET", path).status == 404
