"""The command that checks the rule base: its words, its evidence, its cases, and whether its cases hold it in place."""

from __future__ import annotations

import sys
from collections.abc import Iterator
from datetime import datetime
from pathlib import Path

import click

from advisor.config import Settings
from advisor.conversation import Adviser
from advisor.doors.files_commands import GARDEN
from advisor.language.understand import check_questions
from advisor.reasoning.cases import run_case
from advisor.reasoning.derive import unmatched
from advisor.reasoning.engine import Engine, make_engine
from advisor.reasoning.lint import lint
from advisor.reasoning.mutants import count_mutants, stated, survivors
from advisor.reasoning.rulebase import RuleBase, load_rules
from advisor.records.questions import load_questions
from advisor.records.species import load_lore


@click.command()
@click.option(
    "--mutants",
    "with_mutants",
    is_flag=True,
    help="Change one thing of each rule at a time; name what no case notices.",
)
@click.option("--history", is_flag=True, help="What came of each rule's advice in the garden.")
@GARDEN
def check(with_mutants: bool, history: bool, garden: Path | None) -> None:
    """Check the rule base, its words, its evidence and every rule's own cases: advisor check"""
    settings = Settings.from_environment()
    if history:
        _tell_histories(Adviser.load(settings), garden)
        return
    base, questions = load_rules(settings.rules, settings.own_rules), load_questions(settings.rules)
    lore = load_lore(settings.rules)
    wrong = [*lint(base, questions), *check_questions(questions), *unmatched(base.kinds)]
    cases = 0

    def engine(base: RuleBase) -> Engine:
        return make_engine(base, settings.engine)

    for rule in base.rules.values():
        for case in rule.cases:
            cases += 1
            found = run_case(rule, case, base, engine)
            wrong += [f"{rule.topic}/{rule.id}, case {case.name!r}: {one}" for one in found]
    if with_mutants and not wrong:
        wrong += _survivors(base, settings)
    for sentence in wrong:
        click.echo(sentence)
    own = sum(rule.own for rule in base.rules.values())
    click.echo(
        f"{len(base.rules)} rules{f', {own} of them your own' if own else ''}, {cases} cases, {len(base.kinds)} kinds,"
        f" {len(questions)} questions, {len(lore.species)} species, {len(lore.materials)} materials:"
        f" {f'{len(wrong)} faults' if wrong else 'all well'}"
    )
    sys.exit(1 if wrong else 0)


def _tell_histories(adviser: Adviser, garden: Path | None) -> None:
    with adviser.open(garden) as opened:
        found = adviser.histories(opened, datetime.now(opened.zone()).date())
    for rule in sorted(found, key=lambda rule: (-found[rule].failed, -found[rule].given, rule)):
        one = found[rule]
        failed = f", last on {one.last_failed.isoformat()}" if one.last_failed else ""
        click.echo(f"{rule}: given {one.given}, followed {one.followed}, held {one.held}, failed {one.failed}{failed}")
    if not found:
        click.echo("No advice has been given in this garden before today.")


def _survivors(base: RuleBase, settings: Settings) -> Iterator[str]:
    """Yield what no case notices and no reason is stated for, and reasons that are stated for nothing."""
    reasons = dict(stated(settings.rules))
    left = 0
    for rule in base.rules.values():
        for change in survivors(rule, base):
            if reasons.pop((rule.id, change), ""):
                left += 1
            else:
                yield f"{rule.topic}/{rule.id}: no case notices {change}"
    for (rule_id, change), reason in reasons.items():
        yield f"{rule_id}: {change} is noticed by a case now; take it out of the survivors ({reason})"
    click.echo(f"{count_mutants(base)} changes tried, {left} left with a stated reason")
