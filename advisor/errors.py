"""Every error of ours, drawn as a tree. Each says what was done, what was found and what to do.

AdvisorError
├── BadInput            what was sent or imported cannot be used        → 422, exit 2
│   ├── BadRows         some rows of an import are wrong; nothing was imported
│   ├── BadFields       some fields of one row are wrong; nothing was recorded
│   ├── KeyReused       a key that stands for something else already     → 409
│   └── TooLong         the message is longer than a message can be      → 413
├── NotFound            nothing is stored under that name                → 404
├── GardenUnavailable   the garden file cannot be read or written now    → 503, exit 3
├── BadRules            the rule base does not hold together             → 500, exit 2
└── EngineFailed        the rule engine gave no usable answer            → 500, exit 3
    └── TooManyFacts    the rules made more facts than one run may have
"""

from __future__ import annotations

from dataclasses import dataclass


class AdvisorError(Exception):
    """An error with a way out.

    ``done`` says what was being done, ``found`` what stood in the way, ``do`` what the reader can do about it.
    """

    status = 500
    slug = "advisor-error"
    title = "The adviser could not do that"
    exit_code = 3

    def __init__(self, done: str, found: str, do: str) -> None:
        super().__init__(f"{done}: {found}. {do}")
        self.done, self.found, self.do = done, found, do

    def problem(self) -> dict[str, object]:
        """Return the error as RFC 9457 problem details, with our three parts beside the standard members."""
        return {
            "type": f"urn:advisor:problem:{self.slug}",
            "title": self.title,
            "status": self.status,
            "detail": f"{self.done}: {self.found}. {self.do}",
            "done": self.done,
            "found": self.found,
            "do": self.do,
        }


class BadInput(AdvisorError):
    status = 422
    slug = "bad-input"
    title = "What was sent cannot be used"
    exit_code = 2


@dataclass(frozen=True, slots=True)
class RowFault:
    """One fault in an imported file. ``line`` counts from 1 with the header as line 1; 0 is the whole file."""

    file: str
    line: int
    field: str
    found: str
    wanted: str

    def __str__(self) -> str:
        at = f"{self.file}, line {self.line}" if self.line else self.file
        return f"{at}, {self.field}: found {self.found}; wanted {self.wanted}"


class BadRows(BadInput):
    """Faults found in an import; carries them all so that they can be mended in one go."""

    slug = "bad-rows"
    title = "Some rows cannot be imported"

    def __init__(self, done: str, faults: list[RowFault]) -> None:
        self.faults = faults
        shown = "\n  ".join(str(fault) for fault in faults[:20])
        more = f"\n  and {len(faults) - 20} more" if len(faults) > 20 else ""
        count = "1 fault" if len(faults) == 1 else f"{len(faults)} faults"
        super().__init__(done, f"{count}\n  {shown}{more}\nNothing was imported", "Mend the rows and import again")


class BadFields(BadInput):
    """Faults found in one row told by form; carries them all so that each stands by its field."""

    slug = "bad-fields"
    title = "Some fields cannot be used"

    def __init__(self, done: str, faults: list[RowFault]) -> None:
        self.faults = faults
        found = "; ".join(f"{fault.field} {fault.found}, wanted {fault.wanted}" for fault in faults)
        super().__init__(done, found, "Nothing was changed; give a value that fits")

    def problem(self) -> dict[str, object]:
        """Return problem details with each fault by its field."""
        faults = [{"field": one.field, "found": one.found, "wanted": one.wanted} for one in self.faults]
        return {**super().problem(), "faults": faults}


class KeyReused(BadInput):
    """Something else was sent under the same key before; what came of that stands."""

    status = 409
    slug = "key-reused"
    title = "That key stands for something else already"


class TooLong(BadInput):
    status = 413
    slug = "too-long"
    title = "The message is too long"


class NotFound(AdvisorError):
    status = 404
    slug = "not-found"
    title = "Nothing is stored under that name"
    exit_code = 2


class GardenUnavailable(AdvisorError):
    status = 503
    slug = "garden-unavailable"
    title = "The garden file cannot be used right now"


class BadRules(AdvisorError):
    slug = "bad-rules"
    title = "The rule base does not hold together"
    exit_code = 2


class EngineFailed(AdvisorError):
    slug = "engine-failed"
    title = "The rule engine gave no usable answer"


class TooManyFacts(EngineFailed):
    """More facts than one run may have: of the garden and its rules, whoever makes the engine."""

    slug = "too-many-facts"
