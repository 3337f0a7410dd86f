"""Coverage-guided fuzzing of everything that reads: ``python -m tests.lab.fuzz TARGET --seconds N``.

Needs ``pip install atheris``, which is no part of any extra, as only the fuzzer uses it. Begins with the
files of ``corpus/TARGET`` and with what ``seeds.py`` makes. Ends with 0 and a count, or with a traceback and
the input that did it in the present directory. An input may take ten seconds and the program one gigabyte.
"""

from __future__ import annotations

import argparse
import shutil
import sys
import tempfile
from pathlib import Path

from tests.lab.fuzz.seeds import NAMES, seeds

LONGEST_INPUT_S, MOST_MEMORY_MB, LONGEST_BYTES = 10, 1000, 20_000


def main() -> None:
    """Fuzz one target for a while; does not return."""
    parser = argparse.ArgumentParser(prog="python -m tests.lab.fuzz", description=__doc__)
    parser.add_argument("target", choices=NAMES)
    parser.add_argument("--seconds", type=int, default=60)
    options = parser.parse_args()
    try:
        import atheris  # noqa: PLC0415 - not everybody has it
    except ImportError:
        sys.exit("The fuzzer needs atheris: .venv/bin/pip install atheris")
    folder = Path(tempfile.mkdtemp(prefix="hypocaust-fuzz-"))
    with atheris.instrument_imports(include=["controller", "tomllib", "json"], enable_loader_override=False):
        from tests.lab.fuzz.targets import feed  # noqa: PLC0415 - must be instrumented

        feed(options.target, b"", folder)  # and what it imports only when it is asked
    corpus = folder / "corpus"
    corpus.mkdir()
    for number, content in enumerate(seeds(options.target)):
        (corpus / str(number)).write_bytes(content)
    limits = (
        f"-max_total_time={options.seconds}",
        f"-timeout={LONGEST_INPUT_S}",
        f"-rss_limit_mb={MOST_MEMORY_MB}",
        f"-max_len={LONGEST_BYTES}",
        "-print_final_stats=1",
        "-verbosity=0",
    )
    atheris.Setup([sys.argv[0], *limits, str(corpus)], lambda content: feed(options.target, content, folder))
    try:
        atheris.Fuzz()
    finally:
        shutil.rmtree(folder, ignore_errors=True)


if __name__ == "__main__":
    main()
