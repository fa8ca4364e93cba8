"""`assistant run`, `resume` and `listen`: work at the bench."""

from __future__ import annotations

import argparse
import logging
import os
import sys
from collections.abc import Callable, Mapping, Sequence
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

from assistant.cli import live, pages, practice
from assistant.cli.options import add_command, hearing_options, journal_option, open_journal
from assistant.errors import AssistantError

if TYPE_CHECKING:
    from assistant.audio.manner import Manner
    from assistant.audio.voice import Voice
    from assistant.bench.conversation import Conversation
    from assistant.bench.other_benches import OtherBenches
    from assistant.bench.shift import Shift
    from assistant.cli.options import Commands
    from assistant.grammar.jsgf import Grammar
    from assistant.journal.store import Journal
    from assistant.procedure.model import Procedure

_log = logging.getLogger(__name__)


def add_parsers(commands: Commands) -> None:
    """Add the commands."""
    run = add_command(
        commands,
        "run",
        "start a job and work through a procedure",
        "Start a job. Speak to it, or type with --typed. Everything is recorded as it is said: "
        "stop at any time, and go on with resume.",
        "examples:\n  assistant run pump-rebuild --typed --by sam --unit 'serial 4471'\n"
        "  assistant run --unwritten 'Capstan drive' --machine gearbox --kit kit.csv\n"
        "  assistant run my-pump.yaml --typed --practice     try it; nothing is kept",
    )
    run.add_argument("procedure", nargs="?", help="a procedure file, or the name of a sample")
    run.add_argument(
        "--unwritten",
        metavar="TITLE",
        help="a job that nobody has written up: say what comes off, and it goes on again in "
        "reverse",
    )
    run.add_argument(
        "--machine",
        metavar="KIND",
        help="with --unwritten: what kind of machine, for the names that are listened for: "
        "general (the default), pump, gearbox, engine, compressor, hydraulics, electrics, or a "
        "file with the shop's own list",
    )
    run.add_argument(
        "--kit",
        type=Path,
        metavar="FILE",
        help="with --unwritten: the supplier's list of the box of new parts, CSV or XLSX: number, "
        "name, count",
    )
    run.add_argument("--unit", metavar="TEXT", help="which machine: its serial or job number")
    run.add_argument(
        "--follows",
        type=int,
        metavar="JOB",
        help="the closed job that this one goes on from; its unit is taken where none is given",
    )
    run.add_argument(
        "--practice",
        action="store_true",
        help="the whole conversation with nothing kept and nothing counted: to try a procedure, "
        "or to learn",
    )
    _options(run)
    run.set_defaults(run=_run)

    resume = add_command(
        commands,
        "resume",
        "go on with a job where it stopped",
        "Go on with a job. The assistant says where the work stopped, how long ago, and what is "
        "outstanding. The procedure is the one that the job was begun with; a newer revision in "
        "its file is offered, with what changed.",
    )
    resume.add_argument(
        "job", nargs="?", type=int, metavar="JOB", help="job number (default: latest open job)"
    )
    _options(resume)
    resume.set_defaults(run=_resume)

    listen = add_command(
        commands,
        "listen",
        "choose and change jobs by voice, from power-on",
        "Begin between jobs, and listen: 'what jobs are open', 'open job seven', 'resume' for the "
        "latest, 'new job'. In a job, 'set job aside' or 'close job' leads back. Started at "
        "log-in, it needs no click.",
        "examples:\n  assistant listen --procedures ~/procedures --address call-word\n"
        "  assistant listen --typed",
    )
    listen.add_argument(
        "--procedures",
        type=Path,
        metavar="DIR",
        help="folder of the procedures that jobs can be begun with, called by the files' names "
        "(default: the samples)",
    )
    _options(listen)
    listen.set_defaults(run=_listen)


def _options(parser: argparse.ArgumentParser) -> None:
    source = parser.add_mutually_exclusive_group()
    source.add_argument("--typed", action="store_true", help="read one typed phrase a line")
    source.add_argument(
        "--from",
        dest="recordings",
        nargs="+",
        type=Path,
        metavar="FILE",
        help="listen to recordings (WAV or FLAC) instead of the microphone",
    )
    hearing_options(parser)
    live.add_options(parser)
    journal_option(parser)
    parser.add_argument("--by", metavar="NAME", help="who works; recorded with every event")
    parser.add_argument(
        "--technicians",
        type=Path,
        metavar="FILE",
        help="names, one a line, that people sign on with, as in 'this is ann'; 'Siobhan: shiv on' "
        "gives the sound of one (default: ASSISTANT_TECHNICIANS=Ann,Bo, or the settings)",
    )
    parser.add_argument(
        "--shop",
        metavar="URL",
        help="the shop's database, postgresql://USER@HOST/DATABASE: “last time” tells from it what "
        "other benches did as well (default: ASSISTANT_SHOP, or the settings)",
    )
    parser.add_argument("--silent", action="store_true", help="print replies, do not speak them")
    pages.display_options(parser)


def _run(args: argparse.Namespace) -> int:
    from assistant.dialogue import answers
    from assistant.procedure import reading

    if (args.procedure is None) == (args.unwritten is None):
        raise AssistantError(
            "Give a procedure, or --unwritten and what machine it is. See: assistant run --help"
        )
    if args.practice:
        practice.check(args)
    if args.unwritten is not None:
        procedure, text, file = *_unwritten(args), None
    elif args.machine or args.kit:
        raise AssistantError("--machine and --kit go with --unwritten; a procedure has its own.")
    else:
        loaded = reading.load(reading.find(args.procedure), answers.that_are_commands)
        for warning in loaded.warnings:
            _log.warning("%s", warning)
        procedure, text, file = loaded.procedure, loaded.text, loaded.path
    if args.practice:
        return _practise(args, procedure, text)
    bench, attend = _bench(args, procedure.respell)
    bench.open(procedure, text, file=file, unit=args.unit, follows=args.follows)
    return _attend(bench, attend, args)


def _practise(args: argparse.Namespace, procedure: Procedure, text: str) -> int:
    """Work through a procedure with nothing kept, and say so at the end, however it ends."""
    from assistant.dialogue import wording

    told = False
    try:
        with practice.journal() as journal:
            bench, attend = _bench(args, procedure.respell, journal, remembers=False)
            bench.practice = True
            bench.open(procedure, text, unit=args.unit)
            _warn_of_call_word_in(bench, args)
            attend(bench)
            told = bench.over
    except KeyboardInterrupt:
        return 130
    finally:
        if not told:
            _log.info("%s", wording.job.PRACTICE_OVER)
    return 0


def _unwritten(args: argparse.Namespace) -> tuple[Procedure, str]:
    """Return what a job without a procedure begins with, and its text."""
    from assistant.procedure import kit_list, lexicon, unwritten

    lines: tuple[kit_list.KitLine, ...] = ()
    if args.kit is not None:
        loaded = kit_list.load(args.kit)
        lines = loaded.lines
        for warning in loaded.warnings:
            _log.warning("%s", warning)
    return unwritten.begin(args.unwritten, lexicon.read(args.machine or "general"), lines)


def _resume(args: argparse.Namespace) -> int:
    journal = open_journal(args)
    job = args.job
    if job is None:
        job = journal.latest_open()
        if job is None:
            raise AssistantError("There is no open job. Start one with: assistant run PROCEDURE")
    bench, attend = _bench(args, journal.procedure(job).respell, journal)
    bench.take_up(job)
    return _attend(bench, attend, args)


def _listen(args: argparse.Namespace) -> int:
    from assistant.bench import shift
    from assistant.dialogue import live as grammars
    from assistant.dialogue import state as job_state

    journal = open_journal(args, create=True)
    procedures = shift.on_offer(args.procedures, _log.warning)
    respell = shift.respellings(journal, procedures)
    bench, attend = _bench(args, respell, journal, shift.Shift(journal, procedures))
    bench.come_in()
    first = next(iter(procedures.values())).procedure
    working = grammars.working_grammar(job_state.at_step(first, first.steps[0].id))
    _warn_of_call_word([bench.grammar(), working], respell, args)
    attend(bench)
    return 0


def _bench(
    args: argparse.Namespace,
    respell: Mapping[str, str],
    journal: Journal | None = None,
    shift: Shift | None = None,
    *,
    remembers: bool = True,
) -> tuple[Conversation, Callable[[Conversation], None]]:
    """Make a bench, and what will feed it: typed lines, recordings or the microphone."""
    from assistant.audio.voice import PrintedVoice
    from assistant.bench import ears as bench_ears
    from assistant.bench import microphone, recordings, settings, technicians, typed
    from assistant.bench.conversation import Conversation
    from assistant.bench.keeper import Keeper
    from assistant.bench.presenter import Presenter
    from assistant.bench.terminal import Terminal
    from assistant.recognition.whisper import Whisper

    remembered = settings.read_or_usual(_log.warning)
    people = technicians.choose(args.technicians, remembered.technicians)
    attend: Callable[[Conversation], None]
    transcriber = None
    voice: Voice = PrintedVoice()
    if args.typed:
        attend = partial(typed.attend, lines=sys.stdin, inputs=live.inputs(typed=True))
    else:
        addressing = live.addressing(args)
        own = {**respell, **people.respell}
        ears = bench_ears.build(args.recogniser, args.model, args.respell, own)
        transcriber = ears.second if isinstance(ears.second, Whisper) else None
        if args.recordings:
            voice = live.voice(args, waits=True)
            attend = partial(
                recordings.play, ears=ears, files=args.recordings, addressing=addressing
            )
        else:
            opened = live.opened(args)
            voice = opened.voice
            attend = partial(microphone.listen, ears=ears, live=opened, addressing=addressing)
    voice.manner = remembered.manner
    bench = Conversation(
        Keeper(journal or open_journal(args, create=True), args.by, transcriber),
        Presenter(voice, [Terminal()], _remember_manner if remembers else lambda manner: None),
        technicians=people.names,
        shift=shift,
        photographer=live.photographer(args),
        other_benches=_other_benches(args.shop, remembered.shop),
    )
    if args.display:
        attend = pages.show(bench, args, attend)
    return bench, attend


def _other_benches(given: str | None, kept: str | None) -> OtherBenches | None:
    """Return what looks for the work of other benches; None where the shop has no database.

    Raises AssistantError for what is no URL of one.
    """
    from assistant.bench.other_benches import OtherBenches

    url = given or os.environ.get("ASSISTANT_SHOP") or kept
    if not url:
        return None
    from assistant.journal.server import Server
    from assistant.journal.shop import Shop

    Server(url).close()  # A slip in the URL is told now; whether it answers is not asked.
    return OtherBenches(lambda: Shop(url))


def _remember_manner(manner: Manner) -> None:
    from assistant.bench import settings

    try:
        settings.remember(manner=manner)
    except AssistantError as error:
        _log.warning("The voice is not remembered. %s", error)


def _warn_of_call_word(
    grammars: Sequence[Grammar], respell: Mapping[str, str], args: argparse.Namespace
) -> None:
    """Warn of a call word that the recogniser could take for something else."""
    if args.typed or args.address != "call-word":
        return
    from assistant.bench.calling import call_word
    from assistant.grammar import respelling
    from assistant.recognition.call_word import doubts
    from assistant.recognition.lexicon import Lexicon

    known = respelling.standing().with_extra(respell)
    if args.respell is not None:
        known = respelling.read(args.respell, known)
    lexicon = Lexicon(known)
    for grammar in grammars:
        for doubt in doubts(call_word(args.call_word), grammar, lexicon):
            _log.warning("%s", doubt)


def _warn_of_call_word_in(bench: Conversation, args: argparse.Namespace) -> None:
    from assistant.dialogue import live as grammars

    grammar = grammars.working_grammar(bench.state)
    _warn_of_call_word([grammar], bench.state.procedure.respell, args)


def _attend(
    bench: Conversation, attend: Callable[[Conversation], None], args: argparse.Namespace
) -> int:
    from assistant.bench.conversation import still_open

    _warn_of_call_word_in(bench, args)
    try:
        attend(bench)
    finally:
        if not bench.state.closed:
            _log.info("%s", still_open(bench))
    return 0
