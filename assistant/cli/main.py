"""The command line: thin. Each command imports what it needs when it runs, so help is quick."""

from __future__ import annotations

import argparse
import os
import sys
from collections.abc import Callable, Mapping, Sequence
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

from assistant import __version__
from assistant.cli import messages
from assistant.errors import AssistantError
from assistant.text import escaped, plain

if TYPE_CHECKING:
    from assistant.audio.manner import Manner
    from assistant.audio.voice import Voice
    from assistant.bench.addressing import Addressing
    from assistant.bench.conversation import Conversation
    from assistant.bench.shift import Shift
    from assistant.grammar.jsgf import Grammar
    from assistant.journal.shop import Shop
    from assistant.journal.store import Journal

_EPILOG = """\
a first look:
  assistant demo                          a whole overhaul by voice, from recordings
  assistant run pump-rebuild --typed      the same conversation, typed, without any sound
  assistant run winch-gearbox             by microphone
  assistant resume                        go on with the latest open job
  assistant listen                        choose jobs by voice, from power-on
  assistant report 1 -o job.html          the record of job 1 as a page

The assistant reads out a shop's own procedures; it does not replace them. The maker's current
data, local codes and licensed practice come first.
"""


def main(arguments: Sequence[str] | None = None) -> int:
    """Run one command; return its exit status: 0 done, 1 partly, 2 not."""
    messages.print_them()
    parser = _parser()
    words = list(sys.argv[1:] if arguments is None else arguments)
    if words[:1] == ["sum"]:
        from assistant.cli import sums

        words = sums.joined(words)
    args = parser.parse_args(words)
    if args.command is None:
        parser.print_help()
        return 2
    try:
        return int(args.run(args))
    except AssistantError as error:
        print(plain(str(error), keep="\n"), file=sys.stderr)
        return 2
    except KeyboardInterrupt:
        print("\nStopped. What was recorded is kept.", file=sys.stderr)
        return 130
    except BrokenPipeError:
        # The reader of our output (head, less) has gone; that is no error of ours.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return 0


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(
        prog="assistant",
        description="A hands-free bench assistant: reads a procedure aloud step by step, "
        "understands what the technician says, and keeps the record.",
        epilog=_EPILOG,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    parser.add_argument("--version", action="version", version=f"assistant {__version__}")
    commands = parser.add_subparsers(dest="command", metavar="COMMAND")
    _add_run(commands)
    _add_records(commands)
    _add_keeping(commands)
    _add_sound(commands)
    _add_desk(commands)
    return parser


def _journal_option(parser: argparse.ArgumentParser, *, shop: bool = False) -> None:
    parser.add_argument(
        "--journal",
        type=_place,
        metavar="PATH",
        help="the bench's journal file (default: in your user data folder)"
        + ("; or the shop's database, as postgresql://…" if shop else ""),
    )


def _hearing_options(parser: argparse.ArgumentParser) -> None:
    parser.add_argument(
        "--recogniser",
        choices=("auto", "vosk", "pocketsphinx"),
        default="auto",
        help="auto takes Vosk where its model is found, else the embedded PocketSphinx",
    )
    parser.add_argument(
        "--model", type=Path, metavar="PATH", help="folder of the recogniser's model"
    )
    parser.add_argument(
        "--respell",
        type=Path,
        metavar="FILE",
        help="YAML file of words the recogniser lacks, spelt with words it has",
    )


def _live_options(parser: argparse.ArgumentParser) -> None:
    from assistant.cli import live as live_options

    source = parser.add_mutually_exclusive_group()
    source.add_argument(
        "--typed", action="store_true", help="take one typed phrase a line instead of speech"
    )
    source.add_argument(
        "--from",
        dest="recordings",
        nargs="+",
        type=Path,
        metavar="FILE",
        help="take recordings (WAV or FLAC) in place of the microphone",
    )
    _hearing_options(parser)
    _addressing_options(parser)
    live_options.add(parser)
    _journal_option(parser)
    parser.add_argument("--by", metavar="NAME", help="who works; kept with every event")
    parser.add_argument(
        "--technicians",
        type=Path,
        metavar="FILE",
        help="names, one a line, that people sign on with, as in 'this is ann'; 'Siobhan: shiv on' "
        "tells how one sounds (default: ASSISTANT_TECHNICIANS=Ann,Bo, or the settings)",
    )
    parser.add_argument("--silent", action="store_true", help="print replies, do not speak them")

    from assistant.cli import pages as command

    command.display_options(parser)


_CALL_WORD_VARIABLE = "ASSISTANT_CALL_WORD"


def _addressing_options(parser: argparse.ArgumentParser) -> None:
    parser.add_argument(
        "--address",
        choices=("open", "call-word", "key-held", "key-tapped"),
        default="open",
        help="which phrases are for the assistant: all (open, for a quiet bench); those that begin "
        "with the call word, and what follows an answer within 8 s; those said while a key is "
        "held, or after it was tapped. Any key of this terminal will do, such as the space bar; a "
        "foot pedal with a USB plug is a keyboard that sends a key",
    )
    parser.add_argument(
        "--call-word",
        metavar="WORD",
        default=os.environ.get(_CALL_WORD_VARIABLE, "bench"),
        help="what the assistant is called by, as in 'bench, next step' (default: "
        f"{_CALL_WORD_VARIABLE}, or bench)",
    )


def _add_run(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    run = commands.add_parser(
        "run",
        help="start a job and work through a procedure",
        description="Start a job. Speak to it, or type with --typed; say 'what can i say' for the "
        "commands. The job is kept after every phrase: stop at any time, and go on with resume.",
        epilog="example:\n  assistant run pump-rebuild --typed --by sam --unit 'serial 4471'",
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    run.add_argument("procedure", help="a procedure file, or the name of a sample")
    run.add_argument("--unit", metavar="TEXT", help="which machine: its serial or job number")
    _live_options(run)
    run.set_defaults(run=_run)

    resume = commands.add_parser(
        "resume",
        help="go on with a job where it stopped",
        description="Go on with a job: says where the work stopped, how long ago, and what is "
        "outstanding. The procedure is the one the job was begun with.",
    )
    resume.add_argument(
        "job", nargs="?", type=int, metavar="JOB", help="job number (default: latest open job)"
    )
    _live_options(resume)
    resume.set_defaults(run=_resume)

    listen = commands.add_parser(
        "listen",
        help="choose and change jobs by voice, from power-on",
        description="Begin between jobs, and listen: 'what jobs are open', 'open job seven', "
        "'resume' for the latest, 'new job'. In a job, 'set job aside' or 'close job' leads back. "
        "Started at log-in it needs no click; see the README.",
        epilog="examples:\n  assistant listen --procedures ~/procedures --address call-word\n"
        "  assistant listen --typed",
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    listen.add_argument(
        "--procedures",
        type=Path,
        metavar="DIR",
        help="folder of the procedures that jobs can be begun of, called by the files' names "
        "(default: the samples)",
    )
    _live_options(listen)
    listen.set_defaults(run=_listen)

    demo = commands.add_parser(
        "demo",
        help="hear a whole overhaul by voice, from recordings",
        description="Work through the winch gearbox sample from recordings, as if from a "
        "microphone, print the dialogue, and leave the journal and the report.",
    )
    demo.add_argument(
        "--out", type=Path, metavar="DIR", help="where to leave them (default: a new folder)"
    )
    demo.add_argument(
        "--silent", action="store_true", help="do not speak, even with a sound device"
    )
    _hearing_options(demo)
    demo.set_defaults(run=_demo)


def _add_records(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    jobs = commands.add_parser(
        "jobs",
        help="list the jobs in the journal, or find some",
        description="List the jobs, the latest first. A search finds titles, units, findings, "
        "notes, parts, bags and reasons; every word, or its beginning, has to be there, and "
        "beneath each job stands what was found.",
        epilog="examples:\n  assistant jobs --limit 20\n"
        "  assistant jobs --search 'gearbox circlip'",
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    _journal_option(jobs, shop=True)
    jobs.add_argument("--search", metavar="TEXT", help="only jobs in which these words are found")
    jobs.add_argument("--limit", type=int, metavar="N", help="at most so many")
    jobs.add_argument("--json", action="store_true", help="one JSON object a line")
    jobs.set_defaults(run=_jobs)

    log = commands.add_parser("log", help="print everything that happened in a job, in order")
    log.add_argument("job", type=int, metavar="JOB")
    log.add_argument("--json", action="store_true", help="one JSON object a line, as kept")
    _journal_option(log, shop=True)
    log.set_defaults(run=_log)

    report = commands.add_parser(
        "report",
        help="write the record of a job for people to read",
        description="""\
Write the job's record: a self-contained page, or a PDF, or JSON, or CSV. JSON is the whole record,
CSV one table of all that was recorded; with --list each is one list of it, such as findings,
readings or torques. 'assistant schema' names the lists and says how they are laid out.""",
        epilog="examples:\n  assistant report 3 -o job3.html\n"
        "  assistant report 3 --pdf job3.pdf --paper letter\n"
        "  assistant report 3 --csv > job3.csv\n"
        "  assistant report 3 --list torques --csv > torques.csv",
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    report.add_argument("job", type=int, metavar="JOB")
    report.add_argument(
        "-o", "--out", type=Path, metavar="FILE", help="where to (default for the page: job-N.html)"
    )
    kind = report.add_mutually_exclusive_group()
    kind.add_argument("--json", action="store_true", help="JSON instead of the page")
    kind.add_argument("--csv", action="store_true", help="CSV instead of the page")
    kind.add_argument("--pdf", type=Path, metavar="FILE", help="a PDF; the page only with -o")
    report.add_argument("--paper", choices=("a4", "letter"), default="a4", help="of the PDF")
    report.add_argument(
        "--list", metavar="NAME", help="one list of the record, with --json or --csv"
    )
    _journal_option(report, shop=True)
    report.set_defaults(run=_report)


def _add_keeping(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    from assistant.cli import archives as keeping

    keeping.add_parsers(commands, _journal_option, _journal, _records)

    from assistant.cli import reports as handing_out

    handing_out.add_parsers(commands, _journal_option, _records)

    from assistant.cli import orders as ordering

    ordering.add_parser(commands, _journal_option, _journal, _records)

    from assistant.cli import publishing

    publishing.add_parser(commands, _journal_option, _journal)

    from assistant.cli import transcribing

    transcribing.add_parser(commands, _journal_option, _journal)

    from assistant.cli import pages as command

    command.add_parser(commands, _journal_option, _records)


def _add_sound(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    hear = commands.add_parser(
        "hear",
        help="recognise recordings, and say what was understood",
        description="Recognise each WAV or FLAC file as one phrase, against any JSGF grammar with "
        "a public rule, or against what can be said at a procedure's step.",
        epilog="examples:\n  assistant hear --grammar commands.gram take1.wav take2.flac\n"
        "  assistant hear --procedure pump-rebuild --step measure-shaft --json *.wav",
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    hear.add_argument("files", nargs="+", type=Path, metavar="FILE")
    what = hear.add_mutually_exclusive_group()
    what.add_argument("--grammar", type=Path, metavar="FILE.gram", help="a JSGF grammar")
    what.add_argument("--procedure", metavar="NAME", help="a procedure file or sample")
    hear.add_argument("--step", metavar="ID", help="the procedure's step (default: the first)")
    hear.add_argument("--json", action="store_true", help="one JSON object a line")
    _hearing_options(hear)
    hear.set_defaults(run=_hear)

    say = commands.add_parser("say", help="say a text aloud, or into a WAV file")
    say.add_argument("text", nargs="+", metavar="TEXT")
    say.add_argument("-o", "--out", type=Path, metavar="FILE.wav", help="into a file")
    say.set_defaults(run=_say)

    from assistant.cli import live as live_options

    live_options.add_devices(commands)


def _add_desk(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    check = commands.add_parser(
        "check",
        help="check procedure files before anyone works from them",
        description="Read procedures and report every fault with its file and line.",
    )
    check.add_argument("procedures", nargs="+", metavar="PROCEDURE")
    check.set_defaults(run=_check)

    from assistant.cli import sums

    sums.add_parser(commands)

    samples = commands.add_parser("samples", help="list the sample procedures")
    samples.set_defaults(run=_samples)


# What each command does

_HITS = 5
"""So many of a job's events are shown that a search found."""


def _place(text: str) -> Path | str:
    """Return a journal's path; a URL as it is, for a path would lose one of its slashes."""
    return text if "://" in text else Path(text)


def _journal(args: argparse.Namespace, *, create: bool = False) -> Journal:
    from assistant.journal.store import Journal

    path: Path | str | None = args.journal
    if isinstance(path, str):
        raise AssistantError(
            "This works on the bench's own journal, a file. The shop's database is read with jobs, "
            "log, orders, report and verify, and filled with publish."
        )
    if path is None:
        import platformdirs

        path = platformdirs.user_data_path("bench-assistant", appauthor=False) / "journal.db"
    return Journal(path, create=create)


def _records(args: argparse.Namespace) -> Journal | Shop:
    """Open what --journal names for reading: the bench's own journal, or the shop's database."""
    if isinstance(args.journal, str):
        from assistant.journal.shop import Shop

        return Shop(args.journal)
    return _journal(args)


def _run(args: argparse.Namespace) -> int:
    from assistant.procedure import reading

    loaded = reading.load(reading.find(args.procedure))
    for warning in loaded.warnings:
        print(plain(warning), file=sys.stderr)
    bench, attend = _bench(args, loaded.procedure.respell)
    bench.open(loaded.procedure, loaded.text, unit=args.unit)
    return _attend(bench, attend, args)


def _resume(args: argparse.Namespace) -> int:
    from assistant.bench.job import procedure_of

    journal = _journal(args)
    job = args.job
    if job is None:
        job = journal.latest_open()
        if job is None:
            raise AssistantError("There is no open job. Start one with: assistant run PROCEDURE")
    procedure = procedure_of(journal.events(job), job)
    bench, attend = _bench(args, procedure.respell, journal)
    bench.take_up(job)
    return _attend(bench, attend, args)


def _listen(args: argparse.Namespace) -> int:
    from assistant.bench import shift
    from assistant.dialogue import live
    from assistant.dialogue import state as job_state

    journal = _journal(args, create=True)
    procedures = shift.on_offer(args.procedures, _warn)
    respell = shift.respellings(journal, procedures)
    bench, attend = _bench(args, respell, journal, shift.Shift(journal, procedures))
    bench.come_in()
    first = next(iter(procedures.values())).procedure
    working = live.working_grammar(job_state.at_step(first, first.steps[0].id))
    _warn_of_call_word([bench.grammar(), working], respell, args)
    attend(bench)
    return 0


def _warn(text: str) -> None:
    print(plain(text, keep="\n"), file=sys.stderr)


def _bench(
    args: argparse.Namespace,
    respell: Mapping[str, str],
    journal: Journal | None = None,
    shift: Shift | None = None,
) -> tuple[Conversation, Callable[[Conversation], None]]:
    """Make a bench, and what will feed it: typed lines, recordings or the microphone."""
    from assistant.audio.voice import PrintedVoice
    from assistant.bench import ears as bench_ears
    from assistant.bench import microphone, recordings, settings, technicians
    from assistant.bench.conversation import Conversation
    from assistant.bench.keeper import Keeper
    from assistant.bench.presenter import Presenter
    from assistant.bench.terminal import Terminal
    from assistant.cli import live as live_options
    from assistant.cli import pages as command
    from assistant.recognition.whisper import Whisper

    remembered = settings.read_or_usual(_warn)
    people = technicians.choose(args.technicians, remembered.technicians)
    attend: Callable[[Conversation], None] = _typed
    transcriber = None
    voice: Voice = PrintedVoice()
    if not args.typed:
        addressing = _addressing(args)
        own = {**respell, **people.respell}
        ears = bench_ears.build(args.recogniser, args.model, args.respell, own)
        transcriber = ears.second if isinstance(ears.second, Whisper) else None
        if args.recordings:
            voice = live_options.voice(args, waits=True)
            attend = partial(
                recordings.play, ears=ears, files=args.recordings, addressing=addressing
            )
        else:
            live = live_options.opened(args)
            voice = live.voice
            attend = partial(microphone.listen, ears=ears, live=live, addressing=addressing)
    voice.manner = remembered.manner
    bench = Conversation(
        Keeper(journal or _journal(args, create=True), args.by, transcriber),
        Presenter(voice, [Terminal()], _remember_manner),
        technicians=people.names,
        shift=shift,
    )
    if args.display:
        attend = command.show(bench, args, attend)
    return bench, attend


def _remember_manner(manner: Manner) -> None:
    from assistant.bench import settings

    try:
        settings.remember(manner=manner)
    except AssistantError as error:
        _warn(f"The voice is not remembered. {error}")


def _typed(bench: Conversation) -> None:
    for line in sys.stdin:
        bench.typed(line)
        if bench.over:
            break


def _addressing(args: argparse.Namespace) -> Addressing:
    from assistant.bench import keys
    from assistant.bench.addressing import Addressing, Way
    from assistant.bench.calling import call_word

    way = Way(args.address)
    if way.by_key:
        if args.recordings:
            raise AssistantError(
                "No key is pressed in recordings; with --from choose --address open or call-word."
            )
        # A job is not begun for want of a terminal to be noticed.
        with keys.presses():
            pass
    return Addressing(way, call_word(args.call_word))


def _warn_of_call_word(
    grammars: Sequence[Grammar], respell: Mapping[str, str], args: argparse.Namespace
) -> None:
    if args.typed or args.address != "call-word":
        return
    from assistant.bench.calling import call_word
    from assistant.grammar import respelling
    from assistant.recognition.calling import doubts
    from assistant.recognition.lexicon import Lexicon

    known = respelling.standing().with_extra(respell)
    if args.respell is not None:
        known = respelling.read(args.respell, known)
    lexicon = Lexicon(known)
    for grammar in grammars:
        for doubt in doubts(call_word(args.call_word), grammar, lexicon):
            print(doubt, file=sys.stderr)


def _attend(
    bench: Conversation, attend: Callable[[Conversation], None], args: argparse.Namespace
) -> int:
    from assistant.bench.conversation import still_open
    from assistant.dialogue import live

    grammar = live.working_grammar(bench.state)
    _warn_of_call_word([grammar], bench.state.procedure.respell, args)
    try:
        attend(bench)
    finally:
        if not bench.state.closed:
            print(still_open(bench), file=sys.stderr)
    return 0


def _demo(args: argparse.Namespace) -> int:
    from assistant.cli import demo

    return demo.run(args.out, args.silent, args.recogniser, args.model, args.respell)


def _jobs(args: argparse.Namespace) -> int:
    import json
    from dataclasses import asdict

    journal = _records(args)
    if args.limit is not None and args.limit < 1:
        raise AssistantError("--limit is at least 1.")
    jobs = journal.jobs(args.limit, args.search)
    if args.json:
        for job in jobs:
            print(escaped(json.dumps(asdict(job), default=str, ensure_ascii=False)))
        return 0
    if not jobs and args.search is None:
        print("No jobs yet. Start one with: assistant run PROCEDURE")
    elif not jobs:
        print("No job has these words.")
    several = len({job.bench for job in jobs}) > 1
    for job in jobs:
        where = "closed" if job.closed else f"open, at {job.step}"
        unit = f", {job.unit}" if job.unit else ""
        unit += f", at {job.bench}" if several else ""
        print(plain(f"{job.job:5}  {job.last:%Y-%m-%d %H:%M}  {job.title}{unit}  ({where})"))
        if args.search is not None:
            for hit in journal.search(args.search, job=job.job, limit=_HITS):
                print(plain(f"{'':7}{hit.at:%Y-%m-%d %H:%M}  {hit.kind}: {hit.text}"))
    return 0


def _log(args: argparse.Namespace) -> int:
    from assistant.bench.job import procedure_of
    from assistant.report import log, writing

    journal = _records(args)
    events = journal.events(args.job)
    if args.json:
        for event in events:
            print(escaped(event.model_dump_json(exclude={"source"})))
        return 0
    transcripts = journal.transcripts(args.job)
    for line in log.lines(events, procedure_of(events, args.job), transcripts):
        print(line)
    seal = journal.seal(args.job)
    if seal is not None:
        print(f"Sealed: {writing.grouped(seal)}")
    entered = list(log.afterwards(journal.afterwards(args.job)))
    if entered:
        print("After closing, entered by the parts desk, not under the seal:", *entered, sep="\n")
    return 0


def _report(args: argparse.Namespace) -> int:
    from assistant.cli import reports as handing_out

    return handing_out.report(args, _records(args))


def _hear(args: argparse.Namespace) -> int:
    from assistant.cli import hear

    if args.step and not args.procedure:
        raise AssistantError("--step goes with --procedure.")
    return hear.run(
        args.files,
        grammar=args.grammar,
        procedure=args.procedure,
        step=args.step,
        recogniser=args.recogniser,
        model=args.model,
        respell=args.respell,
        as_json=args.json,
    )


def _say(args: argparse.Namespace) -> int:
    from assistant.audio import voice

    text = " ".join(args.text)
    if args.out:
        voice.to_wav(text, args.out)
        print(args.out)
        return 0
    speaker = voice.open_voice()
    print(text)
    speaker.say(text)
    return 0


def _check(args: argparse.Namespace) -> int:
    from assistant.procedure import reading

    faulty = 0
    for name in args.procedures:
        try:
            loaded = reading.load(reading.find(name))
        except AssistantError as error:
            print(plain(str(error), keep="\n"), file=sys.stderr)
            faulty += 1
            continue
        procedure = loaded.procedure
        size = f"{len(procedure.steps)} steps in {len(procedure.stages)} stages"
        for warning in loaded.warnings:
            print(plain(warning))
        print(plain(f"{name}: good, revision {procedure.revision}, {size}"))
    return 2 if faulty else 0


def _samples(args: argparse.Namespace) -> int:
    from assistant.procedure import reading

    for name, path in reading.samples().items():
        procedure = reading.read(path)
        print(f"{name:20} {procedure.title}, {len(procedure.steps)} steps")
    return 0
