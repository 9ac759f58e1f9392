"""``rulekit compare``."""

import argparse
from typing import Any

from rulekit.cli import options, searching
from rulekit.cli.cantus import length
from rulekit.cli.status import GOOD
from rulekit.language.keeping import kept_ruleset
from rulekit.language.ruleset import Ruleset
from rulekit.page.plots import counts
from rulekit.severity import Severity
from rulekit.show.documents import identity
from rulekit.show.searched import (
    apart_lines,
    both_line,
    differing_lines,
    points_line,
    searched_words,
    strictness_lines,
    witnesses,
)
from rulekit.show.words import counted
from rulekit.solving import answers
from rulekit.solving.cantuses import SHORTEST, Over, cantus_compass, free_compass, over_every_cantus, posed


def arguments(parser: argparse.ArgumentParser) -> None:
    """Two rulesets, and over what they are compared."""
    parser.add_argument("first", metavar="RULESET", help=options.RULESET)
    parser.add_argument("second", metavar="RULESET", help=options.RULESET)
    scores = searching.subject(parser)
    scores.required, scores.default = False, []  # every cantus may stand in their place
    said = "over all cantus firmi of up to so many notes, in place of scores; stops where the rulesets part"
    parser.add_argument("--every-cantus", type=length, metavar="LENGTH", help=said)
    said = f"{options.RULESET} that says what a cantus may be (cantus-firmus)"
    parser.add_argument("--cantus-rules", metavar="RULESET", action="append", help=said)
    parser.add_argument("--cantus-range", type=searching.range_of, metavar="LOW-HIGH", help="of the cantus")
    searching.compass(parser)
    searching.seed(parser)
    searching.page(parser)
    parser.add_argument("--points", action="store_true", help="also by the points that warnings and advice cost")
    searching.limits(parser)


def run(args: argparse.Namespace) -> int:
    """Compare them."""
    return searching.run("compare", _compare, args)


def _compare(args: argparse.Namespace, answer: searching.Answer) -> int:
    if bool(args.scores) == (args.every_cantus is not None):
        raise searching.Failed("give scores with a cantus to compare over, or --every-cantus LENGTH in their place")
    first, second = (kept_ruleset(options.laid(name), {}) for name in (args.first, args.second))
    only_first, only_second, changed = answers.differing_rules(first, second)
    names = args.first, args.second
    results: list[dict[str, Any]] = []
    left_out = _judged_by_points(first, second, {*only_first, *only_second, *changed})
    rules = {"only_first": only_first, "only_second": only_second, "changed": changed}
    answer.say("\n".join(differing_lines(names, rules, [] if args.points else left_out)))
    strict = lenient = True
    answer.document = {"rules": rules, "over": results, "left_out": left_out}
    if args.every_cantus is not None:
        strict, lenient = _over_every_cantus(args, first, second, answer, results)
    for problem in searching.problems(args, first, answer):
        found = answers.compare(problem, second, args.seed, answer.meter)
        strict, lenient = strict and found.only_first == 0, lenient and found.only_second == 0
        results.append({**identity(problem), "both": str(found.both), "only_first": str(found.only_first),
                        "only_second": str(found.only_second)})  # fmt: skip
        answer.say(f"\n-- {searched_words(problem)}\n{both_line(found)}")
        answer.section(problem.heading)
        kinds = {"both": found.both, f"only {args.first}": found.only_first, f"only {args.second}": found.only_second}
        answer.plot("Allowed by", "ruleset", "lines", counts(kinds.items()))
        _say_apart(args, answer, found)
        if args.points:
            apart = answers.compare_points(problem, second, answer.meter)
            results[-1]["points"] = {"first_loses_more": str(apart.first), "alike": str(apart.alike),
                                     "second_loses_more": str(apart.second), "most": apart.most}  # fmt: skip
            answer.say(points_line(names, apart))
    answer.say("\n".join(["", *strictness_lines(names, strict, lenient)]))
    answer.document |= {"at_least_as_strict": strict, "second_at_least_as_strict": lenient}
    return GOOD


def _say_apart(args: argparse.Namespace, answer: searching.Answer, found: answers.Difference | Over) -> None:
    """What only one of the rulesets allows: how much, and a witness."""
    names = args.first, args.second
    for line in apart_lines(names, found):
        answer.say(line)
    for note, line in witnesses(names, found):
        answer.show(note, line)


def _over_every_cantus(
    args: argparse.Namespace,
    first: Ruleset,
    second: Ruleset,
    answer: searching.Answer,
    results: list[dict[str, Any]],
) -> tuple[bool, bool]:
    """Compare over all cantus firmi, the shortest first, until each direction has its witness or the length is
    reached; whether the first ruleset is at least as strict, and the second.
    """
    if args.points or args.voices != 2:
        raise searching.Failed("over every cantus two voices are compared, by their faults")
    cantus = kept_ruleset(options.laid("+".join(args.cantus_rules or ["cantus-firmus"])), {})
    mode = searching.mode_named(args.mode or "D")
    rooms = args.cantus_range or cantus_compass(mode), args.range or free_compass(mode, args.below)
    strict = lenient = True
    for bars in range(SHORTEST, args.every_cantus + 1):
        try:
            problem = posed(first, mode, bars, *rooms, args.below, not args.diatonic, answer.meter.look)
        except ValueError as error:
            raise searching.Failed(str(error)) from error
        found = over_every_cantus(problem, second, cantus, args.seed, answer.meter)
        if not any((found.both, found.only_first, found.only_second)):
            continue
        strict, lenient = strict and found.only_first == 0, lenient and found.only_second == 0
        results.append({"notes": bars, "both": str(found.both), "only_first": str(found.only_first),
                        "only_second": str(found.only_second)})  # fmt: skip
        answer.say(f"\n-- {searched_words(problem)}\n{both_line(found)}")
        answer.section(counted(bars, "note"))
        _say_apart(args, answer, found)
        if not strict and not lenient:
            break
    if not results:
        raise searching.Failed(f"no cantus of {SHORTEST} to {args.every_cantus} notes has a line by either ruleset")
    return strict, lenient


def _judged_by_points(first: Ruleset, second: Ruleset, differing: set[str]) -> list[str]:
    """The differing rules that are a fault in neither ruleset."""
    rules = [rule for ruleset in (first, second) for rule in ruleset.rules if rule.name in differing]
    fatal = {rule.name for rule in rules if rule.weight.severity == Severity.FAULT}
    return sorted({rule.name for rule in rules} - fatal)
