"""Mutation testing, ``python -m tests.lab.mutation MODULE ...``: each small change must make a test fail."""

from __future__ import annotations

import argparse
import sys
from pathlib import Path

import pytest

from tests.lab.mutation.afresh import PLAIN
from tests.lab.mutation.results import Asked, keep, known_results, survivors_of
from tests.lab.mutation.trial import Limits, Trials
from tests.lab.pages import PRODUCTS, ROOT, made, page_option

STORE, PAGE = PRODUCTS / "mutation" / "results.json", PRODUCTS / "mutation" / "RESULTS.md"


def main() -> int:
    """Try the mutants of the given modules and keep the verdicts; 0 if all tests passed without a mutant."""
    parser = argparse.ArgumentParser(prog="python -m tests.lab.mutation", description=__doc__)
    parser.add_argument("module", nargs="+", type=Path, help="files below controller/")
    parser.add_argument("--tests", nargs="+", metavar="PATH", help="asked instead of the package's own tests")
    parser.add_argument("--deselect", nargs="+", default=[], metavar="TEST", help="tests to leave out")
    parser.add_argument("--workers", type=int, default=2, help="mutants tried at once (2)")
    parser.add_argument("--share", type=float, default=1.0, help="try only this share of all mutants (1)")
    parser.add_argument(
        "--longest-test", type=float, default=2.0, metavar="S", help="leave out slower tests (2)"
    )
    parser.add_argument(
        "--seconds-each", type=float, default=60.0, metavar="S", help="of tests a mutant (60)"
    )
    parser.add_argument(
        "--afresh", action="store_true", help="also try what only counts at import, in new processes (slow)"
    )
    parser.add_argument(
        "--survivors",
        action="store_true",
        help="try only what --store says has survived, after tests were added or made stronger",
    )
    parser.add_argument(
        "--store", type=Path, default=STORE, help=f"keeps all verdicts ({STORE.relative_to(ROOT)})"
    )
    page_option(parser, PAGE)
    options = parser.parse_args()
    paths = [path.resolve() for path in options.module]
    tests = options.tests or sorted({f"tests/{path.relative_to(ROOT).parts[1]}" for path in paths})
    which = [*tests, *(f"--deselect={one}" for one in options.deselect)]
    limits = Limits(
        options.workers,
        options.share,
        options.longest_test,
        options.seconds_each,
        which if options.afresh else None,
    )
    only = None
    if options.survivors:
        known, names = known_results(options.store), {path: str(path.relative_to(ROOT)) for path in paths}
        try:
            only = {names[path]: survivors_of(known.get(names[path]), path) for path in paths}
        except ValueError as trouble:
            parser.error(str(trouble))
    asked = Asked(options.share, tests, made(), options.survivors)
    trials = Trials(
        paths,
        ROOT,
        limits,
        lambda verdict: keep(verdict, asked, ROOT / verdict.module, options.store, options.page),
        only,
    )
    code = pytest.main([*PLAIN, "-s", *which], plugins=[trials])
    return 0 if code in (pytest.ExitCode.OK, pytest.ExitCode.NO_TESTS_COLLECTED) else int(code)


if __name__ == "__main__":
    sys.exit(main())
