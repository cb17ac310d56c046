"""Settings, and where the rule base lies. Read once at a door and handed down; nothing below reads the environment."""

from __future__ import annotations

import os
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from advisor.errors import BadInput, BadRules


@dataclass(frozen=True, slots=True)
class Settings:
    """What a running adviser needs to know of where it is.

    ``garden``: the grower's file. ``rules``: the rule base's folder. ``longest_message``: in characters.
    ``own_rules``: a folder of rules that the grower wrote, if any.
    ``log_words``: whether the log also holds what growers write.
    ``busy_s``: how long a write waits for another program before it gives up. [s]
    ``growers``: the folder with one garden file a grower and their keys, where several are served; None for one garden.
    ``hosts``: names under which browsers may ask for the service, beside this machine's own and bare addresses.
    ``behind_proxy``: whether every request comes through a server that says who asked, and whether by https.
    ``log_lines``: whether ``serve`` logs a JSON line a request to the standard error.
    ``without_keys``: whether a production server may serve one garden to whoever reaches it.
    ``engine``: who makes the rule engine (see ``reasoning.engine``); "" for the preferred maker that is installed.
    ``one_of_many``: whether other hosts serve other growers, so that a key not known here may be known there.
    """

    garden: Path
    rules: Path
    longest_message: int = 2000
    busy_s: float = 20.0
    own_rules: Path | None = None
    growers: Path | None = None
    hosts: tuple[str, ...] = ()
    behind_proxy: bool = False
    log_words: bool = False
    log_lines: bool = False
    without_keys: bool = False
    one_of_many: bool = False
    engine: str = ""

    @classmethod
    def from_environment(cls, environ: Mapping[str, str] | None = None) -> Settings:
        """Read the settings from variables named ``ADVISOR_`` and the setting. Raise BadInput where one is no value."""
        env = os.environ if environ is None else environ
        try:
            busy_s = float(env.get("ADVISOR_BUSY_S", "20"))
        except ValueError:
            found = repr(env["ADVISOR_BUSY_S"])
            raise BadInput("reading ADVISOR_BUSY_S", found, "Set it to a number of seconds, such as 5") from None
        return cls(
            garden=Path(env.get("ADVISOR_GARDEN", "garden.db")),
            rules=Path(env["ADVISOR_RULES"]) if "ADVISOR_RULES" in env else find_rules(),
            busy_s=busy_s,
            log_words=env.get("ADVISOR_LOG_WORDS", "") in ("1", "yes", "true"),
            own_rules=Path(env["ADVISOR_OWN_RULES"]) if env.get("ADVISOR_OWN_RULES") else None,
            growers=Path(env["ADVISOR_GROWERS"]) if env.get("ADVISOR_GROWERS") else None,
            hosts=tuple(name.strip().lower() for name in env.get("ADVISOR_HOSTS", "").split(",") if name.strip()),
            behind_proxy=_yes_or_no("ADVISOR_BEHIND_PROXY", env.get("ADVISOR_BEHIND_PROXY", "")),
            log_lines=_json_or_nothing("ADVISOR_LOG", env.get("ADVISOR_LOG", "")),
            without_keys=_yes_or_no("ADVISOR_WITHOUT_KEYS", env.get("ADVISOR_WITHOUT_KEYS", "")),
            one_of_many=_yes_or_no("ADVISOR_ONE_OF_MANY", env.get("ADVISOR_ONE_OF_MANY", "")),
            engine=env.get("ADVISOR_ENGINE", "").strip().lower(),
        )


def _yes_or_no(name: str, text: str) -> bool:
    if text.lower() not in ("", "0", "1", "no", "yes"):
        raise BadInput(f"reading {name}", repr(text), "Set it to yes or no")
    return text.lower() in ("1", "yes")


def _json_or_nothing(name: str, text: str) -> bool:
    if text.lower() not in ("", "json"):
        raise BadInput(f"reading {name}", repr(text), "Set it to json, or leave it out")
    return text.lower() == "json"


def find_rules() -> Path:
    """Return the rule base's folder: inside the installed package, else in the checkout beside it.

    Raises BadRules if it is in neither.
    """
    package = Path(__file__).resolve().parent
    for folder in (package / "_rules", package.parent / "rules"):
        if (folder / "kinds").is_dir():
            return folder
    raise BadRules(
        "looking for the rule base",
        f"no folder with kinds/ in {package / '_rules'} or {package.parent / 'rules'}",
        "Install the package again, or name the folder in ADVISOR_RULES",
    )
