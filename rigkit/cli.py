"""The commands a person meets: `rigkit lab`, `rigkit progress`, `rigkit handout`, `rigkit handin`,
`rigkit grade` with `points`, `backup`, `oneroster` and `forget`, `rigkit checkpoints`, `rigkit course`,
`rigkit audit`, `rigkit book`.

No logic lives here.

Exit codes: 0 all is well, 1 something needs a look, 2 wrong usage, 3 nothing could be done.
"""

import argparse
import json
import sys

import rigkit


def main(arguments=None):
    """Run one command; return its exit code."""
    options = _parser().parse_args(arguments)
    try:
        return options.run(options)
    except ValueError as error:
        print(f"rigkit {options.command}: {error}", file=sys.stderr)
        return 3
    except KeyboardInterrupt:
        print("stopped", file=sys.stderr)
        return 130


def _parser():
    parser = argparse.ArgumentParser(prog="rigkit", description="A workbook for rigging a hard-surface robot, and its grading.")
    parser.add_argument("--version", action="version", version=f"rigkit {rigkit.__version__}")
    commands = parser.add_subparsers(dest="command", required=True, metavar="COMMAND")
    _lab(commands)
    _progress(commands)
    _handout(commands)
    _handin(commands)
    _grade(commands)
    _points(commands)
    _backup(commands)
    _oneroster(commands)
    _forget(commands)
    _checkpoints(commands)
    _course(commands)
    _audit(commands)
    _book(commands)
    return parser


def _command(commands, name, run, help, example):
    command = commands.add_parser(name, help=help, description=help, epilog=f"example{'s' if example.count('rigkit ') > 1 else ''}: {example}")
    command.set_defaults(run=run)
    return command


def _lab(commands):
    command = _command(commands, "lab", lab, "open the workbook in JupyterLab", "rigkit lab --folder ~/robots --learner ada7")
    command.add_argument("--folder", default="~/rigkit-workbook", help="where your copies live (default: %(default)s)")
    command.add_argument("--learner", metavar="ID", help="your learner id from your instructor; without one you get a practice id")
    command.add_argument("--course", metavar="FILE", help="a course file from your instructor: chapters, points, colours, a robot of the course's own")
    command.add_argument("--port", type=int, help="the port JupyterLab listens on (default: the first free one from 8888)")
    command.add_argument("--no-browser", action="store_true", help="print the address, open no browser")
    command.add_argument("--prepare-only", action="store_true", help="lay out the folder, don't start JupyterLab")


def _progress(commands):
    command = _command(commands, "progress", progress, "how far you are: what is mastered, what to repeat, and the map of ideas",
                       "rigkit progress --html progress.html")
    command.add_argument("--folder", default="~/rigkit-workbook", help="where your copies live (default: %(default)s)")
    command.add_argument("--html", metavar="FILE", help="write it as one page too")


def _handout(commands):
    command = _command(commands, "handout", handout, "make a class's copies from its roster, each with a robot of its own",
                       "rigkit handout roster.csv copies --zip")
    command.add_argument("roster", metavar="ROSTER.csv", help="a CSV table with the columns id and name; names stay with you")
    command.add_argument("out", metavar="OUT", help="the folder the copies go to; done again, it adds who is new and overwrites no work")
    command.add_argument("--course", metavar="FILE", help="the course file the class works with")
    command.add_argument("--zip", action="store_true", help="OUT/ID.zip to send, in place of the folder OUT/ID")


def _handin(commands):
    command = _command(commands, "handin", handin, "pack your chapters into one file to hand in, and give its receipt",
                       "rigkit handin --folder ~/robots")
    command.add_argument("--folder", default="~/rigkit-workbook", help="where your copies live (default: %(default)s)")
    command.add_argument("--check", metavar="FILE", help="say whether a packed file is whole, whose it is, and its receipt; pack nothing")


def _grade(commands):
    example = """

  rigkit grade hand-ins --out results                        grade all; the same command goes on where it was stopped
  rigkit grade hand-ins --out results --only ada7/06 /07     chapter 06 of ada7, chapter 07 of all
  rigkit grade hand-ins --out results --dry-run              say what would be run, and what can't be read
  rigkit grade hand-ins --out results --cluster tls://grader:8786 --certificates ~/grading
  rigkit grade hand-ins --out results --times times.csv --deadline 2026-11-20T18:00+01:00 --rule best"""
    command = _command(commands, "grade", grade, "grade a folder of hand-ins", example)
    command.formatter_class = argparse.RawDescriptionHelpFormatter
    command.add_argument("folder", metavar="FOLDER", help="holds LEARNER/NN-name.ipynb or LEARNER.zip for each learner")
    command.add_argument("--out", required=True, metavar="OUT", help="where the results go; the same folder again resumes")
    command.add_argument("--chapters", nargs="+", metavar="NN", help="grade these chapters only")
    command.add_argument("--workers", type=int, help="how many at once (default: one a core)")
    command.add_argument("--only", nargs="+", metavar="WHICH", default=[], help="these alone: LEARNER, LEARNER/NN or /NN")
    command.add_argument("--times", metavar="FILE", help="a CSV table of file and time, kept where hand-ins are collected; all hand-ins of a "
                         "chapter are then graded and kept (LEARNER/ANY/NN-name.ipynb too), and one of them counts")
    command.add_argument("--deadline", metavar="TIME", default="", help="what came later doesn't count: 2026-11-20T18:00, UTC or with +01:00")
    command.add_argument("--rule", choices=["last", "best"], default="last", help="which of several counts (default: %(default)s)")
    command.add_argument("--course", metavar="FILE", help="the course file the class works with")
    command.add_argument("--roster", metavar="FILE", help="the class's roster (id, name): who handed in nothing is told, and who is not of the class")
    command.add_argument("--dry-run", action="store_true", help="say what would be run; run and write nothing")
    command.add_argument("--secret", metavar="FILE", help="a file whose content seeds the hidden inputs of this course")
    command.add_argument("--trust-submissions", action="store_true", help="run unconfined where no box is to be had: only for code you trust")
    command.add_argument("--cluster", metavar="ADDRESS", help="grade on the workers of a dask.distributed scheduler over TLS, tls://HOST:8786 (needs "
                         "rigkit[cluster]; how to start one is in workbooks/guide/cluster.md)")
    command.add_argument("--certificates", metavar="FOLDER", help="with --cluster: ca.pem, cert.pem and key.pem")
    command.add_argument("--no-progress", action="store_true", help="show no progress bar")
    command.add_argument("--json", action="store_true", help="print a summary as JSON")


def _points(commands):
    example = "rigkit points results ada7 01.8 same=1 where=1/2 --note 'says where, not why'"
    command = _command(commands, "points", points, "list the texts that await a reader, or give one its points", example)
    command.add_argument("out", metavar="OUT", help="the folder `rigkit grade` wrote; alone, it lists what awaits a reader")
    command.add_argument("learner", metavar="LEARNER", nargs="?")
    command.add_argument("checkpoint", metavar="CHECKPOINT", nargs="?")
    command.add_argument("points", metavar="CLAIM=POINTS", nargs="*", help="points for a claim: 1, 1/2 or 0.5")
    command.add_argument("--note", default="", help="a word about why, kept with the points")


def _backup(commands):
    command = _command(commands, "backup", backup, "copy the results to a file, also while a class is being graded",
                       "rigkit backup results friday.sqlite")
    command.add_argument("out", metavar="OUT", help="the folder `rigkit grade` wrote")
    command.add_argument("file", metavar="FILE", help="a new file; to go back, put it in place of OUT/results.sqlite and grade again")


def _oneroster(commands):
    command = _command(commands, "oneroster", oneroster, "write the results as a zip in the open standard OneRoster 1.2 (CSV), for a gradebook",
                       "rigkit oneroster results grades.zip --school s1 --class c7 --term t1 --roster roster.csv")
    command.add_argument("out", metavar="OUT", help="the folder `rigkit grade` wrote")
    command.add_argument("file", metavar="FILE.zip", help="a new file")
    for name in ("school", "class", "term"):
        command.add_argument(f"--{name}", required=True, metavar="ID", help=f"the school's sourcedId of the {name}")
    command.add_argument("--category", default="", metavar="ID", help="that of a category in its gradebook (default: one of our own)")
    command.add_argument("--due", default="", metavar="DAY", help="when the work was due, 2026-11-20 (default: today)")
    command.add_argument("--roster", metavar="FILE", help="a roster with a column sourcedid, where the school's ids of learners are others than ours")


def _forget(commands):
    command = _command(commands, "forget", forget, "delete one learner from the results and reports", "rigkit forget results ada7")
    command.add_argument("out", metavar="OUT", help="the folder `rigkit grade` wrote")
    command.add_argument("learner", metavar="LEARNER")


def _checkpoints(commands):
    command = _command(commands, "checkpoints", checkpoints, "list every checkpoint of the course", "rigkit checkpoints --json")
    command.add_argument("--json", action="store_true", help="print them as JSON")


def _course(commands):
    command = _command(commands, "course", course, "try a course file: what it changes, and whether every worked answer still earns full marks",
                       "rigkit course autumn.toml --variants 20")
    command.add_argument("file", metavar="FILE", help="a course file (TOML); its form is in workbooks/guide/instructors.md")
    command.add_argument("--variants", type=int, default=10, metavar="N", help="try the robots of variants 0 to N-1 (default: %(default)s)")
    command.add_argument("--json", action="store_true", help="print the findings as JSON")


def _audit(commands):
    example = "rigkit audit robot.glb --html robot.html"
    command = _command(commands, "audit", audit, "measure a rigged character: exit code 0 clean, 1 findings, 3 unreadable", example)
    command.add_argument("file", metavar="FILE", help="a character in the open glTF 2.0 format, .glb or .gltf")
    command.add_argument("--rules", metavar="FILE", help="a rule file (TOML) that changes limits, severities, name pattern, colours")
    command.add_argument("--roles", metavar="FILE", help="a roles file (TOML): which joint is the left elbow")
    command.add_argument("--baseline", metavar="FILE", help="a baseline (TOML) of findings accepted with a reason")
    command.add_argument("--html", metavar="FILE", help="write one self-contained page with pictures of where each finding is")
    command.add_argument("--json", action="store_true", help="print the report as JSON (its form is in DEVELOPERS.md)")
    command.add_argument("--all", action="store_true", help="print every finding, not only the worst of each rule")
    command.add_argument("--roles-template", action="store_true", help="print a roles file with what was guessed, for correction, and stop")
    command.add_argument("--baseline-template", action="store_true", help="print a baseline of what was found, wanting reasons, and stop")
    command.add_argument("--no-progress", action="store_true", help="show no progress bar")


def _book(commands):
    example = "rigkit book pages, or one file: rigkit book pages --chapter 06 --single"
    command = _command(commands, "book", book, "write the workbook as pages that need no Python and no network", example)
    command.add_argument("out", metavar="OUT", help="the folder to write to: a new one, or that of an earlier book")
    command.add_argument("--chapter", nargs="+", metavar="NN", default=[], help="these chapters only")
    command.add_argument("--single", action="store_true", help="each chapter as one file that needs nothing beside it")
    command.add_argument("--json", action="store_true", help="print the files written as JSON")


def lab(options):
    """Lay out the learner's folder and open JupyterLab on it."""
    from rigkit.course import lab as desk

    who, copied = desk.prepare(options.folder, options.learner, options.course)
    print(f"learner {who.id}, robot variant {who.variant}, folder {options.folder}")
    for chapter in copied:
        print(f"  {chapter.name}: {chapter}")
    if options.prepare_only:
        return 0
    print("JupyterLab is starting; its address is in the lines below. To stop it, press Ctrl+C here.", flush=True)
    return desk.open_lab(options.folder, options.port, not options.no_browser)


def progress(options):
    """Tell how far a learner is."""
    from rigkit.course import far

    print(far.told(options.folder, options.html))
    return 0


def handout(options):
    """Make a class's copies."""
    from rigkit.course import handout as desk

    copies, table = desk.hand_out(desk.read_roster(options.roster), options.out, options.course, options.zip)
    for one in copies:
        print(f"{one.id}  robot variant {one.variant}  {one.path}" + ("" if one.new else "  (was there)"))
    print(f"{len(copies)} copies; who has which is in {table}. It holds names: keep it.")
    return 0


def handin(options):
    """Pack a hand-in, or look at one."""
    from rigkit.course import handin as desk

    told, whole = desk.look_at(options.check) if options.check else desk.pack_told(options.folder)
    print(told)
    return 0 if whole else 1


def grade(options):
    """Grade a folder of hand-ins."""
    from rigkit import grading

    return grading.grade(
        options.folder, options.out, chapters=options.chapters, workers=options.workers, secret=options.secret,
        trust_submissions=options.trust_submissions, progress=not options.no_progress, json=options.json,
        only=options.only, times=options.times, deadline=options.deadline, rule=options.rule, course=options.course,
        roster=options.roster, cluster=options.cluster, certificates=options.certificates, dry_run=options.dry_run,
    )


def points(options):
    """List the texts that await a reader, or give points."""
    from rigkit.grading import reader

    if options.learner is None:
        for learner, checkpoint, text, claims in reader.waiting(options.out):
            print(f"{learner}  {checkpoint}\n  {text!r}")
            for claim, (words, most) in claims.items():
                print(f"  {claim}=0..{most}  {words}")
        return 0
    given = dict(one.partition("=")[::2] for one in options.points)
    if not options.checkpoint or not given:
        raise ValueError("expected LEARNER CHECKPOINT CLAIM=POINTS; `rigkit points OUT` alone lists what awaits a reader")
    total = reader.give(options.out, options.learner, options.checkpoint, given, options.note)
    print(f"{options.learner} has {total} points now; the reports are written again")
    return 0


def backup(options):
    """Copy the results to a file."""
    from rigkit.grading import reader

    reader.backup(options.out, options.file)
    print(f"the results of {options.out} are in {options.file}")
    return 0


def oneroster(options):
    """Write the results in OneRoster's CSV binding."""
    from rigkit.course import handout as desk
    from rigkit.grading import oneroster as standard

    students = desk.read_roster(options.roster, "sourcedid") if options.roster else None
    group = getattr(options, "class")
    count = standard.write(options.out, options.file, options.school, group, options.term, options.category, options.due, students)
    print(f"{count} results are in {options.file}")
    return 0


def forget(options):
    """Delete one learner."""
    from rigkit.grading import reader

    reader.forget(options.out, options.learner)
    print(f"{options.learner} is no longer in {options.out}; delete the hand-in too if it should not be graded again")
    return 0


def checkpoints(options):
    """List the checkpoints of the course."""
    from rigkit import course

    catalogue = course.catalogue()
    if options.json:
        print(json.dumps(catalogue, indent=1))
    else:
        for row in catalogue["checkpoints"]:
            print(f"{row['id']}  {row['points']:>2} points  {row['kind']:<8}  {row['title']}")
    return 0


def course(options):
    """Try a course file."""
    from rigkit.course import trial

    return trial.run(options.file, options.variants, options.json)


def audit(options):
    """Examine a character."""
    from rigkit.audit import command

    try:
        return command.run(options, rigkit.load, _audit_page)
    except OSError as error:
        raise ValueError(f"{error.filename or options.file}: {error.strerror or error}") from None


def book(options):
    """Write the workbook as pages."""
    from rigkit import book as pages

    say = (lambda line: print(line, file=sys.stderr)) if options.json else (lambda line: print(line, flush=True))
    written = pages.build(options.out, options.chapter, options.single, say)
    shown = [path for path in written if path.suffix == ".html"]
    print(json.dumps({"schema": "rigkit-book-1", "files": [str(path) for path in written]}, indent=1) if options.json else
          "\n".join(f"  {path}" for path in shown))
    return 0


def _audit_page(report, character):
    from rigkit.view import audit_page

    return audit_page.page(report, character)


if __name__ == "__main__":
    sys.exit(main())
