"""Files by page: looked over first, faults named, sound rows added, taken back; and names and sizes that do no harm."""

from __future__ import annotations

import csv
import html
import io
import re
import stat
import threading
from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from flask.testing import FlaskClient
from hypothesis import given
from hypothesis import strategies as st
from tests_shared import NOON

from advisor.conversation import Adviser
from advisor.doors.http import create_app
from advisor.doors.page.records_import import LARGEST_BYTES
from advisor.doors.page.records_options import in_page_words
from advisor.doors.page.records_uploads import KEPT_FOR, LONGEST_NAME_BYTES, MOST_KEPT, Uploads, safe_name
from advisor.errors import BadInput, NotFound
from advisor.records.store import Garden

BAD = Path(__file__).resolve().parents[2] / "fixtures" / "bad_records"
STAGES = b"plant,on,bbch,words\nshed fig,2026-04-24,3,at last\nnobody,2026-04-24,3,\nshed fig,2026-13-24,<b>7</b>,\nwall fig,2026-04-24,12,\n"


@pytest.fixture
def open_demo(adviser: Adviser, demo_copy: Path) -> Callable[[], Garden]:
    return lambda: adviser.open(demo_copy)


def send(client: FlaskClient, **files: bytes) -> str:
    """Upload files (``stage__csv`` for stage.csv) and return where their preview is."""
    answer = upload(client, *((name.replace("__", "."), content) for name, content in files.items()))
    assert answer.status_code == 303, answer.get_data(as_text=True)
    return str(answer.headers["Location"])


def upload(client: FlaskClient, *files: tuple[str, bytes]):
    return client.post("/records/import", data={"files": [(io.BytesIO(content), name) for name, content in files]})


def page(client: FlaskClient, path: str, status: int = 200) -> str:
    answer = client.get(path)
    assert answer.status_code == status, answer.get_data(as_text=True)
    return html.unescape(answer.get_data(as_text=True))


def told(answer) -> str:
    return html.unescape(answer.get_data(as_text=True))


# ---- preview, add, undo


def test_a_bad_file_is_read_its_sound_rows_added_and_taken_back(client: FlaskClient, open_demo) -> None:
    """The whole way: every fault with its line, nothing added before the button, sound rows in, all of it out."""
    at = send(client, stage__csv=STAGES)
    raw = client.get(at).get_data(as_text=True)
    assert "<b>7" not in raw and "&lt;b&gt;7" in raw
    text = html.unescape(raw)
    assert "3 faults" in text and "stage.csv, line 3" in text and "stage.csv, line 4" in text
    assert "a plant that is recorded" in text and "Add the sound rows only (2)" in text
    with open_demo() as garden:
        assert len(garden.of("stage")) == 396
    assert client.post(at, data={"rows": "all"}).status_code == 422
    places = [client.post(at, data={"rows": "sound"}).headers["Location"] for _ in range(2)]
    assert places[0] == places[1]
    done = page(client, places[0])
    assert "Stage of a plant: 2" in done and "3 faults were left out" in done
    with open_demo() as garden:
        assert len(garden.of("stage")) == 398
    (undo,) = re.findall(r'action="(/records/told/[^"]+/undo)"', done)
    assert client.post(undo, data={"form": "a" * 32}).status_code == 303
    with open_demo() as garden:
        assert len(garden.of("stage")) == 396


def test_files_that_build_on_each_other_go_in_and_out_together(client: FlaskClient, open_demo) -> None:
    """A spot, a plant in it and a look at the plant, in three files at once; one press takes back all three."""
    at = send(
        client,
        stage__csv=b"plant,on,bbch\nnew one,2026-04-24,3\n",
        plant__csv=b"name,species,spot\nnew one,fig,new spot\n",
        spot__csv=b"name\nnew spot\n",
    )
    assert "Add all 3" in page(client, at)
    done = page(client, client.post(at).headers["Location"])
    (undo,) = re.findall(r'action="(/records/told/[^"]+/undo)"', done)
    assert client.post(undo, data={"form": "b" * 32}).status_code == 303
    with open_demo() as garden:
        assert "new spot" not in garden.names("spot") and "new one" not in garden.names("plant")
    assert "Add all 3" in page(
        client,
        send(
            client,
            spot__csv=b"name\nnew spot\n",
            plant__csv=b"name,species,spot\nnew one,fig,new spot\n",
            stage__csv=b"plant,on,bbch\nnew one,2026-04-24,3\n",
        ),
    )


def test_what_is_told_anew_is_named_in_the_growers_words(client: FlaskClient) -> None:
    """A cover with another depth: what it was and what it is now; the same file twice has nothing to add."""
    cover = b"spot,material,depth_cm,put_on\nsouth wall,stones,9,2021-10-02\n"
    at = send(client, cover__csv=cover)
    text = page(client, at)
    assert "depth was 6 cm and is now 9 cm" in text and "in place of an older one" in text
    assert client.post(at).status_code == 303
    again = send(client, cover__csv=cover)
    text = page(client, again)
    assert "Imported before, and passed over: cover.csv" in text and "There is nothing to add" in text
    assert client.post(again).status_code == 409


def test_what_a_file_holds_is_asked_where_it_does_not_say(client: FlaskClient, open_demo) -> None:
    """A name that is no kind: asked, and read as the kind chosen, under its own name."""
    at = send(client, mine__csv=b"plant,on,bbch\nshed fig,2026-04-24,4\n")
    text = page(client, at)
    assert "What mine.csv holds" in text and "Nothing." in text
    assert "Add it" in page(client, at + "?kind-0=stage")
    assert client.post(at, data={"kind-0": "stage"}).status_code == 303
    with open_demo() as garden:
        assert garden.db.conn.execute("SELECT ref FROM said ORDER BY id DESC LIMIT 1").fetchone() == ("mine.csv",)


def test_weather_options_are_asked_only_where_needed(client: FlaskClient) -> None:
    """A plain file asks nothing; one whose unit fits both asks for the unit, in words of the page, and is read with it."""
    plain = page(client, send(client, stage__csv=b"plant,on,bbch\nshed fig,2026-04-24,4\n"))
    assert "What they leave open" not in plain
    rows = b"on,tmin,tmax,station\n" + b"".join(
        b"2026-03-%02d,%d,%d,porch\n" % (n, 30 + n % 7, 45 + n % 9) for n in range(1, 20)
    )
    at = send(client, weather_day__csv=rows)
    text = page(client, at)
    assert (
        "Unit of the temperatures" in text
        and "--temperature-unit" not in text
        and "--" not in re.sub(r"<!--.*?-->", "", text)
    )
    assert "Weather of a day: 19" in page(client, at + "?unit=f")


def test_no_sentence_of_an_import_names_an_option_of_the_command_line() -> None:
    """Every sentence in which the import names one has words of its own on a page."""
    folder = Path(__file__).resolve().parents[2] / "advisor" / "records"
    reading = [
        *folder.glob("weather_*.py"),
        *(folder / f"{name}.py" for name in ("importing", "moments", "rows", "tables")),
    ]
    source = "\n".join(path.read_text(encoding="utf-8") for path in sorted(reading))
    said = [text for text in re.findall(r'f?"([^"\n]*--[a-z-]+[^"\n]*)"', source) if not text.startswith("--keep")]
    assert len(said) >= 6
    filled = [re.sub(r"\{[^}]*\}", "x", text) for text in said]
    assert [text for text in filled if "--" in in_page_words(text)] == []


@dataclass
class Sent:
    filename: str
    content: bytes = b"name\nbed\n"

    def save(self, dst: str) -> None:
        Path(dst).write_bytes(self.content)


@pytest.mark.parametrize("path", sorted(BAD.glob("*.*sv")) + sorted(BAD.glob("*.jsonl")), ids=lambda path: path.name)
def test_every_broken_file_has_its_page(client: FlaskClient, path: Path) -> None:
    """Each of the broken files known to us is previewed without a fault of ours."""
    answer = upload(client, (path.name, path.read_bytes()))
    text = page(client, answer.headers["Location"])
    assert "What these files would bring" in text


def test_all_faults_come_as_a_file(client: FlaskClient) -> None:
    """The page shows two hundred, the file has them all, with formulas guarded."""
    rows = b"plant,on,bbch\n" + b"".join(b"=cmd%d,2026-04-24,3\n" % n for n in range(450))
    at = send(client, stage__csv=rows)
    text = page(client, at)
    assert (
        "450 faults" in text and "The first 200 of 450 are shown" in text and text.count('data-label="Wanted"') == 200
    )
    with client.get(at + "/faults.csv") as answer:
        found = list(csv.DictReader(io.StringIO(answer.get_data(as_text=True))))
    assert len(found) == 450 and found[0]["line"] == "2"
    assert not any(value.startswith(("=", "+", "@")) for row in found for value in row.values())


def test_a_garden_changed_between_preview_and_add_is_heeded(client: FlaskClient, open_demo) -> None:
    """The plant goes between the look and the button: its row is refused, and the page says so."""
    client.post("/records/new/plant", data={"form": "c" * 32, "name": "short lived", "species": "fig"})
    at = send(client, stage__csv=b"plant,on,bbch\nshort lived,2026-04-24,3\n")
    assert "Add it" in page(client, at)
    with open_demo() as garden:
        (row_id,) = garden.db.conn.execute("SELECT MAX(id) FROM plant").fetchone()
    client.post(f"/records/plant/{row_id}/out", data={"form": "d" * 32, "reason": "gone"})
    answer = client.post(at)
    assert answer.status_code == 422 and "Nothing was added" in told(answer) and "'short lived'" in told(answer)


def test_a_garden_of_nothing_is_filled_by_files(adviser: Adviser, tmp_path: Path) -> None:
    """With no garden file yet the preview makes none, and the button makes one."""
    own = replace(adviser, settings=replace(adviser.settings, garden=tmp_path / "new.db"))
    client = create_app(own, lambda: NOON).test_client()
    client.environ_base["HTTP_ACCEPT"] = "text/html"
    at = send(client, place__csv=b"name,latitude_deg,longitude_deg,time_zone,units\nHill,47,15,Europe/Vienna,metric\n")
    assert "Place: 1" in page(client, at)
    assert not (tmp_path / "new.db").exists()
    assert client.post(at).status_code == 303
    assert "1 in use" in page(client, "/records")


# ---- what is refused


@pytest.mark.parametrize(
    ("name", "said"),
    [
        ("all.zip", "Unpack it"),
        ("sheet.XLSX", "Save each sheet as CSV"),
        ("photo.jpg", "no table"),
        ("csv", "no table"),
        ("", "no file was chosen"),
    ],
)
def test_what_is_no_table_is_refused_kindly(client: FlaskClient, name: str, said: str) -> None:
    """A packed file, a spreadsheet, a picture, nothing: what to do instead stands by the field."""
    answer = upload(client, (name, b"PK\3\4"))
    assert (
        answer.status_code == 422 and said.casefold() in told(answer).casefold() and 'id="files-fault"' in told(answer)
    )


def test_files_too_large_are_refused_with_the_limit(client: FlaskClient) -> None:
    """More than the limit is refused before it is read, and the page says how much is the most."""
    answer = client.post(
        "/records/import", data=b"x", headers={"Content-Type": "multipart/form-data; boundary=b"},
        environ_overrides={"CONTENT_LENGTH": str(LARGEST_BYTES + 100_000)},
    )  # fmt: skip
    assert answer.status_code == 413 and "20 MB" in told(answer) and 'id="files-fault"' in told(answer)


def test_the_limit_is_raised_for_files_alone(client: FlaskClient) -> None:
    """A file of a megabyte goes in, a form of a megabyte elsewhere does not."""
    rows = b"plant,on,bbch\n" + b"".join(b"shed fig,19%02d-01-01,3\n" % (n % 100) for n in range(20_000))
    border = "xyz"
    body = (
        b'--xyz\r\nContent-Disposition: form-data; name="files"; filename="stage.csv"\r\n\r\n'
        + rows
        + b"\r\n--xyz--\r\n"
    )
    sent = {"data": body, "content_type": f"multipart/form-data; boundary={border}"}
    assert client.post("/records/import", **sent).status_code == 303
    assert client.post("/records/new/stage", **sent).status_code == 413


# ---- where uploads are kept


@given(st.text(max_size=300))
def test_no_name_leaves_its_folder(name: str) -> None:
    """Whatever a file is called: it is refused, or kept under a short name with no way out of its folder."""
    try:
        kept = safe_name(name + ".csv", [])
    except BadInput:
        return
    assert "/" not in kept and "\\" not in kept and "\0" not in kept and not kept.startswith(".")
    assert len(kept.encode()) <= LONGEST_NAME_BYTES and kept.endswith(".csv")
    assert Path("/folder", kept).parent == Path("/folder") and Path(kept).name == kept
    assert safe_name(kept, []) == kept


@pytest.mark.parametrize(
    ("given_name", "kept"),
    [
        ("../../x.csv", "x.csv"), ("/etc/passwd.csv", "passwd.csv"), ("C:\\Users\\x\\soil.csv", "soil.csv"), ("con.csv", "_con.csv"),
        ("NUL.csv", "_NUL.csv"), ("com1.tar.csv", "_com1.tar.csv"), (".hidden.csv", "hidden.csv"),  ("é.CSV", "é.csv"),
        ("a\nb.csv", "a_b.csv"), ("stage.csv ", "stage.csv"), ("..%2f..%2fx.csv", "..%2f..%2fx.csv".strip(".")),
    ],
)  # fmt: skip
def test_names_that_try_are_tamed(given_name: str, kept: str) -> None:
    """Paths, devices, hidden files and line breaks."""
    assert safe_name(given_name, []) == kept


def test_two_files_of_one_name_are_refused() -> None:
    """Also where they differ in capitals alone, since some disks hold them for one."""
    with pytest.raises(BadInput, match="two files are called"):
        safe_name("Stage.csv", ["stage.csv"])


def test_a_long_name_is_cut_by_its_bytes() -> None:
    """Three hundred letters of three bytes each."""
    assert len(safe_name("桃" * 300 + ".csv", []).encode()) <= LONGEST_NAME_BYTES


def test_uploads_are_private_few_and_not_for_long(tmp_path: Path) -> None:
    """A folder that only its owner may read, tokens that cannot be guessed, the oldest gone first, all gone in time."""
    kept = Uploads(tmp_path / "garden.db")
    at = datetime(2026, 4, 24, 10, tzinfo=UTC)
    tokens = [kept.keep([Sent("stage.csv")], at + timedelta(minutes=n)) for n in range(MOST_KEPT + 2)]
    root = kept.root
    assert stat.S_IMODE(root.stat().st_mode) == 0o700 and len(tokens[0]) >= 40
    assert len(list(root.iterdir())) == MOST_KEPT
    for gone in tokens[:2]:
        with pytest.raises(NotFound, match="not kept any more"):
            kept.find(gone, at)
    with pytest.raises(NotFound):
        kept.find(tokens[-1], at + KEPT_FOR + timedelta(hours=1))
    assert list(root.iterdir()) == []
    for guess in ("", "..", "../" * 9, tokens[-1][:-1], "a" * 43):
        with pytest.raises(NotFound):
            kept.find(guess, at)


def test_uploads_are_found_by_another_process_of_the_service_and_by_no_other_garden(tmp_path: Path) -> None:
    """They lie beside their garden's file: whoever serves that garden finds them, under the same token."""
    token = Uploads(tmp_path / "garden.db").keep([Sent("stage.csv")], NOON)
    assert Uploads(tmp_path / "garden.db").find(token, NOON).names == ["stage.csv"]
    with pytest.raises(NotFound):
        Uploads(tmp_path / "other.db").find(token, NOON)


def test_two_presses_at_once_add_once(adviser: Adviser, demo_copy: Path) -> None:
    """Four hands on the button that adds: one import, and all are led to it."""
    own = replace(adviser, settings=replace(adviser.settings, garden=demo_copy))
    app = create_app(own, lambda: NOON)
    first = app.test_client()
    first.environ_base["HTTP_ACCEPT"] = "text/html"
    at = send(first, stage__csv=b"plant,on,bbch\nshed fig,2026-04-24,4\n")
    found: list[str] = []

    def press() -> None:
        found.append(app.test_client().post(at).headers.get("Location", ""))

    threads = [threading.Thread(target=press) for _ in range(4)]
    for one in threads:
        one.start()
    for one in threads:
        one.join()
    assert len(set(found)) == 1 and found[0].startswith("/records/told/")
    with adviser.open(demo_copy) as garden:
        assert len(garden.of("stage")) == 397


def test_an_upload_that_fails_midway_leaves_nothing(tmp_path: Path) -> None:
    """Where the disk gives up, no half of an upload stays."""

    class Broken(Sent):
        def save(self, dst: str) -> None:
            Path(dst).write_bytes(b"half")
            raise OSError("disk full")

    kept = Uploads(tmp_path / "garden.db")
    kept.keep([Sent("a.csv")], NOON)
    with pytest.raises(OSError, match="disk full"):
        kept.keep([Broken("b.csv")], NOON)
    assert len(list(kept.root.iterdir())) == 1
