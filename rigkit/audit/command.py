"""What `rigkit audit` does, with the loader and the painter of pages handed in, for both stand above this layer."""

import sys
from pathlib import Path

from rigkit import audit

CLEAN, FOUND = 0, 1


def run(options, load, page):
    """Examine options.file and print the report; return the exit code, 0 clean or 1 findings.

    options: as the command line gives them. load: path to Character. page: (report, character) to HTML text. What can't be read
    is a ValueError or an OSError.
    """
    if hasattr(sys.stdout, "reconfigure"):
        sys.stdout.reconfigure(errors="backslashreplace")  # a name may hold letters that the terminal lacks
    character = load(options.file)
    if options.roles_template:
        print(audit.roles_template(character, options.rules, options.roles), end="")
        return CLEAN
    shown = not options.no_progress and sys.stderr.isatty()
    report = audit.examine(character, options.rules, options.roles, options.baseline, progress=_told if shown else None)
    if shown:
        print("\r\033[K", end="", file=sys.stderr)
    if options.html:
        Path(options.html).write_text(page(report, character), encoding="utf-8")
    if options.baseline_template:
        print(audit.baseline_template(report), end="")
        return CLEAN
    print(report.json() if options.json else audit.text(report, options.all))
    if options.html and not options.json:
        print(f"\nthe page is {options.html}")
    return FOUND if report.findings else CLEAN


def _told(rule, number, count):
    print(f"\r\033[Kexamining {number + 1} of {count}: {rule}", end="", file=sys.stderr, flush=True)
