"""A served process that dies of its rule engine, or is killed: nothing is lost or doubled, and the operator sees why.

The engine that dies is planted by the test's own launcher; all else is the service as it runs, asked over HTTP.
"""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
import threading
import time
import urllib.request
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

import pytest
from planted import LAUNCH, POISON, POISONED
from prometheus_client.parser import text_string_to_metric_families
from senders import Sender, all_answered, hold_kept, more_answered
from served import GUNICORN, Known, children, environment, free_port, gunicorn, process, until, wait_for

from advisor.conversation import Adviser
from advisor.doors import standing_by
from advisor.doors.last_words import LAST_CRASH
from advisor.reasoning.engine import makers_here
from advisor.talk.once import GAVE_UP

FIRST, *OTHERS = makers_here()
pytestmark = [
    pytest.mark.skipif(not hasattr(os, "fork"), reason="needs a system that forks"),
    pytest.mark.skipif(not OTHERS, reason="only one maker is installed"),
]


@dataclass
class Service:
    """A service that runs: its garden, port, process and log."""

    garden: Path
    port: int
    running: subprocess.Popen[bytes]
    log: Path

    @property
    def child(self) -> int:
        """The process that serves; waited for where one has just died."""
        until(lambda: children(self.running.pid), "a process that serves")
        return children(self.running.pid)[0]

    @property
    def said(self) -> str:
        return self.log.read_text(encoding="utf-8")

    def counted(self, name: str) -> dict[tuple[str, ...], float]:
        """Return what is counted under a name, by the values of its labels in the order of their names."""
        with urllib.request.urlopen(f"http://127.0.0.1:{self.port}/metrics", timeout=20) as answer:
            families = text_string_to_metric_families(answer.read().decode())
        samples = [s for f in families for s in f.samples if s.name == f"{name}_total"]
        return {tuple(value for _, value in sorted(s.labels.items())): s.value for s in samples}


@contextmanager
def serving(garden: Path, plan: dict[str, str]) -> Iterator[Service]:
    """Serve a garden with planted engines, as ``advisor serve`` does."""
    log, port = garden.with_name("log"), free_port()
    command = [sys.executable, "-c", LAUNCH, json.dumps(plan), "serve", "--port", str(port)]
    with process(command, {"ADVISOR_GARDEN": str(garden)}, log) as running:
        wait_for(port, running, log)
        yield Service(garden, port, running, log)


@contextmanager
def others_sending(port: int, keys: tuple[str, ...] = ("", "")) -> Iterator[list[Sender]]:
    """Let others log and ask meanwhile, and a little longer; hold that all they sent was answered."""
    stop = threading.Event()
    senders = [Sender(f"grower-{n}", port, stop, key) for n, key in enumerate(keys)]
    for sender in senders:
        sender.start()
    try:
        yield senders
        before = [len(sender.answered) for sender in senders]
        until(lambda: more_answered(senders, before, a_reading=True), "an answer to each sender")
    finally:
        stop.set()
        for sender in senders:
            sender.join()
    assert [one for sender in senders for one in sender.wrong] == []


def sound_answer(adviser: Adviser, garden: Path, copied: Callable[[Path], Path]) -> str:
    """Return what sound engines answer to the poison, from a copy of a garden."""
    return str(adviser.message({"text": POISON}, datetime.now(UTC), copied(garden))["reply"])


@pytest.fixture
def copied(tmp_path: Path) -> Callable[[Path], Path]:
    def copy(garden: Path) -> Path:
        to = tmp_path / "copy" / garden.name
        to.parent.mkdir(exist_ok=True)
        to.write_bytes(garden.read_bytes())
        return to

    return copy


@pytest.mark.parametrize(
    ("fate", "told"),
    [
        ("SIGSEGV", "SIGSEGV"),
        ("SIGABRT", "SIGABRT"),
        ("SIGKILL", "SIGKILL, sent by hand or by the system where memory runs out"),
        ("stuck", "its own watch, since it was stuck"),
    ],
)
def test_an_engine_that_ends_the_process(
    adviser: Adviser, demo_copy: Path, copied: Callable[[Path], Path], fate: str, told: str
) -> None:
    """The message is answered by the next maker, the others' once each, and log, counts and file say what happened."""
    right = sound_answer(adviser, demo_copy, copied)
    with serving(demo_copy, {FIRST: fate}) as service:
        before, poisoned = service.child, Sender("asker", service.port, threading.Event())
        with others_sending(service.port) as senders:
            time.sleep(0.3)
            poisoned.send("poison", POISON)
            poisoned.send("next", "what is recorded of the shed bed?")
        assert service.child != before
        ended = service.counted("advisor_engine_failures")
        assert service.counted("advisor_restarts") == {(told.partition(",")[0],): 1.0}
    assert poisoned.wrong == []
    assert poisoned.answered["poison"]["reply"] == right
    assert poisoned.answered["next"]["outcome"] == "answered"
    hold_kept(demo_copy, all_answered([*senders, poisoned]))
    kept = demo_copy.with_name(LAST_CRASH).read_text(encoding="utf-8")
    for text in (service.said, kept):
        assert f"it was ended by {told}" in text and f"{FIRST} " in text and POISONED in text
        assert "shed bed" not in text and "frost?" not in text
        if fate != "SIGKILL":  # which nobody can write anything of
            assert "in run" in text and "planted.py" in text
    if fate != "stuck":  # then the thread that ran it is not told from the others
        assert ended == {("ended the process", FIRST, POISONED): 1.0}
    assert service.said.count("A process that serves is gone") == 1


def test_an_engine_that_refuses(adviser: Adviser, demo_copy: Path, copied: Callable[[Path], Path]) -> None:
    """The same request is answered by the next maker, in the same process, and the log names maker and question."""
    right = sound_answer(adviser, demo_copy, copied)
    with serving(demo_copy, {FIRST: "refused"}) as service:
        before, asker = service.child, Sender("asker", service.port, threading.Event())
        asker.send("poison", POISON)
        assert asker.answered["poison"]["reply"] == right
        assert service.child == before
        assert service.counted("advisor_engine_failures") == {("refused", FIRST, POISONED): 1.0}
    assert f"the engine of {FIRST} failed at {POISONED}" in service.said and "planted" in service.said
    assert "frost?" not in service.said


def test_a_poison_for_all_makers(demo_copy: Path) -> None:
    """A message that every maker dies of is told so after three deaths, and others are answered all the same."""
    with serving(demo_copy, dict.fromkeys(makers_here(), "SIGSEGV")) as service:
        asker = Sender("asker", service.port, threading.Event())
        with others_sending(service.port) as senders:
            asker.send("poison", POISON)
            asker.send("next", "what is recorded of the shed bed?")
        restarts = service.counted("advisor_restarts")
    assert asker.wrong == []
    assert (asker.answered["poison"]["outcome"], asker.answered["poison"]["reply"]) == ("gave-up", GAVE_UP)
    assert asker.answered["next"]["outcome"] == "answered"
    assert restarts == {("SIGSEGV",): 3.0}
    answers = all_answered([*senders, asker])
    assert [key for key, one in answers.items() if one["outcome"] == "gave-up"] == ["poison"]
    hold_kept(demo_copy, answers)


def test_what_nobody_sends_again_is_answered(demo_copy: Path) -> None:
    """A sender who hears nothing and goes away finds the answer: it is taken up by itself, and soon."""
    with serving(demo_copy, {FIRST: "SIGSEGV"}) as service:
        body = json.dumps({"id": "poison", "text": POISON}).encode()
        sent = urllib.request.Request(
            f"http://127.0.0.1:{service.port}/messages", body, {"Content-Type": "application/json"}
        )
        with pytest.raises(OSError):
            urllib.request.urlopen(sent, timeout=20)
        address = f"http://127.0.0.1:{service.port}/messages/poison"

        def answered() -> bool:
            with urllib.request.urlopen(address, timeout=60) as answer:
                return answer.status == 200 and json.load(answer)["outcome"] == "answered"

        until(answered, "an answer to who went away")
    assert "left unanswered before, answered now: poison" in service.said


def test_a_maker_that_dies_often_is_left_out(demo_copy: Path) -> None:
    """After three deaths of one maker's engines the next maker's are run at once, so that the deaths have an end."""
    with serving(demo_copy, {FIRST: "SIGSEGV", "memory": "none"}) as service:
        asker = Sender("asker", service.port, threading.Event())
        for n in range(6):
            asker.send(f"poison-{n}", POISON)
        restarts = service.counted("advisor_restarts")
    assert asker.wrong == [] and {one["outcome"] for one in asker.answered.values()} == {"answered"}
    assert restarts == {("SIGSEGV",): 3.0}
    assert f"Engines of {FIRST} ended 3 processes" in service.said


def test_killed_again_and_again(demo_copy: Path) -> None:
    """A served process killed from outside under load is started again each time, and nobody is refused meanwhile."""
    with serving(demo_copy, {}) as service:
        with others_sending(service.port, ("", "", "")) as senders:
            for n in range(4):
                heard = [len(sender.answered) for sender in senders]
                until(lambda heard=heard: more_answered(senders, heard), "an answer between two deaths")  # type: ignore[misc]
                time.sleep(0.03 * n)
                os.kill(before := service.child, signal.SIGKILL)
                until(lambda before=before: service.child != before, "another process")  # type: ignore[misc]
        assert service.running.poll() is None
        assert service.counted("advisor_restarts") == {("SIGKILL",): 4.0}
    answers = all_answered(senders)
    assert len(answers) > 10 and {one["outcome"] for one in answers.values()} <= {"recorded", "answered"}
    hold_kept(demo_copy, answers)


@pytest.mark.parametrize("sent", [signal.SIGTERM, signal.SIGINT])
def test_told_to_end(demo_copy: Path, sent: signal.Signals) -> None:
    """Told to end, both processes do, with a good exit code and without a word of a death; what was told is kept."""
    with serving(demo_copy, {}) as service:
        child, asker = service.child, Sender("asker", service.port, threading.Event())
        asker.send("told", "soil shed bed 11.5 10cm")
        service.running.send_signal(sent)
        assert service.running.wait(60) == 0
        assert not Path(f"/proc/{child}").exists()
    assert "is gone" not in service.said and "Traceback" not in service.said
    hold_kept(demo_copy, asker.answered)


def test_the_parent_killed(demo_copy: Path) -> None:
    """Where the process that stands by is killed, the other ends by itself, and the port is free again."""
    with serving(demo_copy, {}) as service:
        child = service.child
        service.running.kill()
        service.running.wait(10)
        until(lambda: not Path(f"/proc/{child}").exists(), "the end of the other")
        standing_by.listen("127.0.0.1", service.port)[0].close()


DIES_AT_ONCE = """
import os, signal, sys
from pathlib import Path
from advisor.doors import standing_by
standing_by.PAUSES_S = (0.0,)
begun = Path(sys.argv[1]) / "begun"
def serve():
    with begun.open("a") as file:
        file.write("x")
    if sys.argv[2] == "signal":
        os.kill(os.getpid(), signal.SIGSEGV)
    raise OSError("no such disk")
sys.exit(standing_by.StandBy(serve, Path(sys.argv[1])).run())
"""


@pytest.mark.parametrize(("how", "told"), [("signal", "SIGSEGV"), ("error", "itself, with code 1")])
def test_one_that_always_dies_is_given_up(tmp_path: Path, how: str, told: str) -> None:
    """A process that dies at once however often it is started is given up in the end, with a last word and code 1."""
    command = [sys.executable, "-c", DIES_AT_ONCE, str(tmp_path), how]
    done = subprocess.run(command, capture_output=True, text=True, timeout=120, env=environment({}))
    assert done.returncode == 1
    assert len((tmp_path / "begun").read_text()) == standing_by.MOST_AT_ONCE
    last = done.stderr[done.stderr.rindex("A process that serves is gone") :]
    assert told in last and "given up" in last
    assert done.stderr.count("It is started again") == standing_by.MOST_AT_ONCE - 1


def test_a_port_that_is_taken(demo_copy: Path) -> None:
    """Where something listens already, the command says so and ends, without a process left behind."""
    with serving(demo_copy, {}) as service:
        command = [sys.executable, "-c", LAUNCH, "{}", "serve", "--port", str(service.port)]
        done = subprocess.run(
            command, capture_output=True, text=True, timeout=60, env=environment({"ADVISOR_GARDEN": str(demo_copy)})
        )
    assert done.returncode == 2 and "something listens there already" in done.stderr
    assert "another --port" in done.stderr and "Traceback" not in done.stderr


PLANTED_GUNICORN = f"""
import sys
sys.path.insert(0, {str(Path(__file__).resolve().parents[1] / "shared")!r})
exec(compile(open({str(GUNICORN)!r}).read(), {str(GUNICORN)!r}, "exec"))
import planted
planted.plant({{plan!r}})
"""


@pytest.mark.parametrize("fate", ["SIGSEGV", "SIGKILL"])
def test_one_worker_of_several_dies(growers: Callable[..., list[Known]], tmp_path: Path, fate: str) -> None:
    """Under gunicorn one of two workers dies of an engine: another maker answers, the others lose nothing, all is told."""
    known = growers(3)
    config = tmp_path / "planted.conf.py"
    config.write_text(PLANTED_GUNICORN.format(plan=json.dumps({FIRST: fate})))
    log, port = tmp_path / "log", free_port()
    settings = {"ADVISOR_GROWERS": str(tmp_path / "growers"), "WEB_CONCURRENCY": "2"}
    command = [str(config) if one == str(GUNICORN) else one for one in gunicorn(port)]
    with process(command, settings, log) as running:
        wait_for(port, running, log)
        service = Service(tmp_path, port, running, log)
        asker = Sender("asker", port, threading.Event(), known[0].key)
        with others_sending(port, (known[1].key, known[2].key)) as senders:
            asker.send("poison", POISON)
            asker.send("next", "what is recorded of the shed bed?")
        until(lambda: len(children(running.pid)) == 2 and service.counted("advisor_restarts"), "another worker")
        ended = service.counted("advisor_engine_failures")
        restarts = service.counted("advisor_restarts")
    assert asker.wrong == [] and asker.answered["poison"]["outcome"] == "answered"
    for grower, sender in zip(known, [asker, *senders], strict=True):
        if any(one["recorded"] for one in sender.answered.values()):
            hold_kept(tmp_path / "growers" / f"{grower.id}.db", sender.answered)
    assert ended == {("ended the process", FIRST, POISONED): 1.0}
    assert sum(restarts.values()) == 1
    told = next(json.loads(one)["says"] for one in service.said.splitlines() if "is gone" in one)
    assert f"the engine of {FIRST} ran {POISONED}" in told
    assert (tmp_path / "growers" / LAST_CRASH).read_text(encoding="utf-8").count(fate) >= 1
    assert "shed bed" not in service.said
    if fate == "SIGSEGV":
        assert "SIGSEGV" in told and "read_nowhere" in told
