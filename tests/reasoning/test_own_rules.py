"""A grower's own rules: the same checks, shown as theirs, and standing for one of ours where they take its id."""

from __future__ import annotations

import re
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from tests_shared import NOON

from advisor.config import Settings, find_rules
from advisor.conversation import Adviser
from advisor.errors import BadRules
from advisor.reasoning.rulebase import load_rules

OURS = "soil/mulch-does-not-set-bloom-date"
ASKED = "why is the gate apricot so late?"


def own_rule(folder: Path, **changed: str) -> Path:
    """Write our rule into a folder of the grower's, each key of ``changed`` with another line in its place."""
    text = (find_rules() / f"{OURS}.toml").read_text(encoding="utf-8")
    for key, line in changed.items():
        text, times = re.subn(rf"(?m)^{key}\s*=.*$", f"{key} = {line}", text, count=1)
        assert times == 1, key
    name = changed.get("id", f'"{OURS.split("/")[1]}"').strip('"')
    (folder / "soil").mkdir(exist_ok=True)
    (folder / "soil" / f"{name}.toml").write_text(text, encoding="utf-8")
    return folder


def ask(folder: Path, demo_file: Path, text: str = ASKED) -> dict[str, Any]:
    settings = replace(Settings(demo_file, find_rules()), own_rules=folder)
    return Adviser.load(settings).message({"text": text}, NOON, demo_file)


def test_a_rule_of_their_own_is_shown_as_theirs(tmp_path: Path, demo_copy: Path) -> None:
    """A rule under an id of its own speaks beside ours, and the reply says whose it is."""
    folder = own_rule(tmp_path, id='"my-bark-says-nothing"', says='"My chips never held a flower back."')

    reply = ask(folder, demo_copy)

    assert "By your own rule my-bark-says-nothing: My chips never held a flower back." in reply["reply"]
    assert [one["owner"] for one in reply["because"] if one["rule"] == "my-bark-says-nothing"] == ["yours"]


def test_a_rule_of_their_own_may_stand_for_one_of_ours(tmp_path: Path, demo_copy: Path) -> None:
    """Under an id of ours theirs is taken, the reply says so, and the cautions of ours are kept."""
    folder = own_rule(tmp_path, says='"My chips never held a flower back."')
    ours = load_rules(find_rules()).rules[OURS.split("/")[1]]

    reply = ask(folder, demo_copy)

    assert f"By your own rule {ours.id}, in place of mine of that name: My chips" in reply["reply"]
    assert load_rules(find_rules(), folder).rules[ours.id].cautions == ours.cautions


def test_where_theirs_is_silent_and_ours_would_have_spoken_the_reply_says_so(tmp_path: Path, demo_copy: Path) -> None:
    """A rule of ours that theirs keeps silent does not vanish unsaid."""
    folder = own_rule(tmp_path)
    path = folder / f"{OURS}.toml"
    text = path.read_text(encoding="utf-8").replace('growing = "ground"', 'growing = "pot"')
    path.write_text(re.sub(r"(?s)\[\[test\]\].*", "", text) + _cases_of_a_pot(), encoding="utf-8")

    reply = ask(folder, demo_copy)

    assert "stands in place of mine, which would have spoken here" in reply["reply"]


def _cases_of_a_pot() -> str:
    tree = '{ kind = "traits", plant = "a", species = "apricot", wakes = "early", flowers_first = true, roots_from_below = false }'
    stand = '{ kind = "standing", plant = "a", spot = "s", species = "apricot", growing = "GROWING" }'
    cover = '{ kind = "spot_cover", spot = "SPOT", material = "wood chips", group = "organic" }'
    cases = [("in a pot", "pot", "s", '[{ kind = "finding" }]'), ("in the ground", "ground", "s", "[]"),
             ("chips elsewhere", "pot", "t", "[]")]  # fmt: skip
    return "\n".join(
        f'[[test]]\nname = "{name}"\ngiven = [{tree}, {stand.replace("GROWING", growing)}, {cover.replace("SPOT", spot)}]\n'
        f"expect = {expect}\n" + ('lacks = ["cover"]\n' if spot == "t" else "")
        for name, growing, spot, expect in cases
    )


def test_a_rule_of_theirs_that_is_not_sound_is_refused_with_the_reason(tmp_path: Path, demo_copy: Path) -> None:
    """The same checks as ours; nothing is answered by a rule that shows no evidence."""
    folder = own_rule(tmp_path, id='"my-bark-says-nothing"', strength='"certain"')

    with pytest.raises(BadRules, match="strength 'certain'; use one of"):
        ask(folder, demo_copy)


def test_a_folder_that_is_not_there_is_said(tmp_path: Path, demo_copy: Path) -> None:
    """A setting that names nothing is no silent empty folder."""
    with pytest.raises(BadRules, match="no folder"):
        ask(tmp_path / "none", demo_copy)


SULKS = """
id           = "my-figs-sulk-in-a-cool-spring"
says         = "My figs sulk when April is cool."
how_it_works = "They want warm nights."
strength     = "usual-practice"
since        = 2026-04-01
sources      = [{ cite = "grower's own judgement", backs = "seen here" }]
cautions     = ["Seen in one garden."]

[when.now]
kind  = "stage_now"
awake = false

[then]
conclude = "cause"
plant    = "{now.plant}"
claim    = "cool-spring"
grade    = "likely"
tell     = "It sulks in this cool spring."

[[test]]
name   = "asleep"
given  = [{ kind = "stage_now", plant = "a", bbch = 0, on = 2026-04-20, age_days = 2, awake = false, flowering = false }]
expect = [{ kind = "cause" }]

[[test]]
name   = "awake"
given  = [{ kind = "stage_now", plant = "a", bbch = 9, on = 2026-04-20, age_days = 2, awake = true, flowering = false }]
expect = []

[[test]]
name   = "nothing seen"
given  = [{ kind = "stage", plant = "a", bbch = 0, on = 2026-04-20 }]
expect = []
"""


def test_a_cause_that_one_rule_supports_and_another_rules_out_is_told_as_a_dispute(
    tmp_path: Path, demo_copy: Path
) -> None:
    """Theirs says the spring is to blame; the figs beside it woke in the same weather, and the reply says which it took."""
    (tmp_path / "waking").mkdir()
    (tmp_path / "waking" / "my-figs-sulk-in-a-cool-spring.toml").write_text(SULKS, encoding="utf-8")

    reply = ask(tmp_path, demo_copy, "why is the shed fig so late?")

    assert "Two rules disagree. I took: ruled out, a cool spring" in reply["reply"]
    assert "I left: It sulks in this cool spring. The reason: " in reply["reply"]
    (dispute,) = reply["disputes"]
    assert dispute["rules"] == ["its-kin-woke-in-the-same-weather", "my-figs-sulk-in-a-cool-spring"]
    assert [one.get("grade") for one in reply["conclusions"] if one["claim"] == "cool-spring"] == ["ruled out"]
