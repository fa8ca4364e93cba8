"""Every command, declared once.

To add one: its intent in `intents.py`, its handler in the module that it belongs to, what it says
in `wording`, and its declaration here. The tests fail while a declaration is incomplete.
"""

from __future__ import annotations

from decimal import Decimal
from typing import Literal, get_args

from assistant.audio.manner import Change
from assistant.dialogue import (
    answers_about_parts,
    answers_about_pieces,
    arranging,
    asking,
    asking_customer,
    attention,
    building_up,
    corrections,
    counting,
    events,
    handing_over,
    intents,
    moving,
    photos,
    recording,
    revising,
    scanned,
    second_check,
    sent,
    settling,
    supplying,
    taking_down,
    telling,
    tightening,
    timers,
)
from assistant.dialogue.command import EVERYDAY, WAITING, Command, Rulebook, Theme
from assistant.dialogue.facts import LockerStrength, Threads
from assistant.dialogue.said import Said
from assistant.dialogue.state import Mode
from assistant.grammar import numbers

_WHILE_SKIPPING = (*EVERYDAY, Mode.SKIPPING, Mode.CONCEDING)
"""Also while a reason is asked for."""

_ANYWHERE = (*_WHILE_SKIPPING, Mode.PLACING)
"""Also while it is asked what a value is of."""

_ASKING = tuple(mode for mode in WAITING if mode is not Mode.NOTING)
"""While an answer is waited for that is not free speech."""


def _ask(said: Said) -> intents.Intent:
    topic = intents.Topic(said.node.tags[-1])
    unit = said.tag("torque_unit") if said.has("torque_unit") else None
    return intents.Ask(topic, unit, said.words("any_fastener"))


def _of_set(said: Said) -> intents.Intent:
    return intents.OfSet(
        next(use for use in get_args(_USES) if use in said.node.tags), said.words("reading_name")
    )


def _removed(said: Said) -> intents.Intent:
    if not said.has("one_part") and not said.has("many_parts"):
        return intents.Removed()
    noun = said.noun()
    return intents.Removed(noun.name, noun.plural, said.whole("several"))


def _rename(said: Said) -> intents.Intent:
    noun = said.noun()
    return intents.Rename(noun.name, noun.plural)


def _size(said: Said) -> intents.Intent:
    thread, length = said.node.find("thread_size"), said.node.find("length")
    return intents.Size(
        numbers.parse(thread.words() if thread else ()),
        numbers.parse(length.words()) if length else None,
    )


def _threads(said: Said) -> intents.Intent:
    tag = said.tag()
    return intents.ThreadsFound(next(each for each in get_args(Threads) if each == tag))


def _thread_locker(said: Said) -> intents.Intent:
    tag = said.tag()
    return intents.ThreadLocker(next(one for one in get_args(LockerStrength) if one == tag))


def _set_torque(said: Said) -> intents.Intent:
    named = said.has("one_part") or said.has("many_parts")
    value, unit = said.quantity()
    return intents.SetTorque(value, unit, said.noun().name if named else None)


_UNWRITTEN = (Mode.TAKING_DOWN, Mode.BUILDING_UP)

_USES = Literal["mean", "greatest", "least"]


def _plain_word(said: Said) -> intents.Intent:
    return intents.PlainWord(next(w for w in intents.PLAIN_WORDS if w == said.tag()))


def _tightened(said: Said) -> intents.Intent:
    value, unit, slip = _amount(said)
    return intents.Tightened(
        value,
        unit,
        said.words("fastener"),
        slip,
        said.count("bolt_number"),
        "all" in said.node.tags,
        said.taken(),
    )


def _amount(said: Said) -> tuple[Decimal, str | None, Decimal | None]:
    """Return the angle or the torque that was said, its unit, and a slip before it."""
    if said.has("angle"):
        return said.number("whole"), "°", None
    return said.quantity_with_slip()


def _reading(said: Said) -> intents.Intent:
    value, unit, slip = said.quantity_with_slip()
    return intents.Reading(value, unit, said.words("reading_name"), slip, said.taken())


def _finding(said: Said) -> intents.Intent:
    name = said.part()
    part = said.state.procedure.part(name)
    # "Shaft scored" and "shafts scored" sound alike: of the only one there is, it is no plural.
    several = part is None or part.count > 1
    return intents.Finding(
        name,
        said.words("condition") or "",
        said.words("place"),
        _disposition(said),
        said.taken(),
        said.count("count"),
        several and said.has("many_parts") and not said.has("count"),
    )


def _disposition(said: Said) -> events.Disposition | None:
    if not said.has("disposition"):
        return None
    tag = said.tag("disposition")
    return next(each for each in get_args(events.Disposition) if each == tag)


def _supply(said: Said) -> intents.Intent:
    tag = said.tag()
    state = next(each for each in get_args(events.OrderState) if each == tag)
    return intents.Supply(said.part(), state, said.count("count"))


_SECONDS = {"s": 1, "min": 60, "h": 3600, "d": 86400}


def _start_timer(said: Said) -> intents.Intent:
    name = said.words("timer_name")
    if not said.has("duration"):
        return intents.StartTimer(name=name)
    return intents.StartTimer(said.whole("count") * _SECONDS[said.tag("time_unit")], name)


def _value(said: Said) -> intents.Intent:
    value, unit = said.quantity()
    return intents.Value(value, unit, said.words("reading_name"))


COMMANDS = (
    # move
    Command(
        intents.Next,
        Theme.MOVE,
        moving.on_next,
        phrases="next step | go on | step done",
        help=("next step",),
        low_stakes=True,
        modes={
            Mode.TAKING_DOWN: taking_down.on_next,
            Mode.BUILDING_UP: building_up.on_next,
        },
        progress=(events.StepDone, events.OrderMoved, events.StepEntered, events.ReadyForCheck),
    ),
    Command(
        intents.Previous,
        Theme.MOVE,
        moving.on_previous,
        phrases="previous step | go back",
        help=("previous step",),
        low_stakes=True,
        modes={Mode.CHECKING: supplying.on_item_before},
        progress=(events.StepEntered,),
    ),
    Command(
        intents.Skip,
        Theme.MOVE,
        moving.on_skip,
        phrases="skip step | skip this step",
        help=("skip step",),
        other=(events.SkipAsked,),
    ),
    Command(
        intents.Reason,
        Theme.MOVE,
        attention.on_not_asked,
        phrases="(part not here | waiting for part) {part not here}"
        " | part on order {part on order}"
        " | tool not here {tool not here}"
        " | already done {already done}"
        " | not fitted {not fitted to this machine}"
        " | not needed {not needed}"
        " | told to leave it {told to leave it}"
        " | do it later {to be done later}"
        " | could not get it off {could not be got off}",
        means=lambda said: intents.Reason(said.tag()),
        help=("waiting for part", "already done", "not fitted", "tool not here"),
        heard_in=(Mode.SKIPPING,),
        modes={Mode.SKIPPING: moving.on_reason},
        progress=(events.StepSkipped, events.StepEntered),
    ),
    Command(
        intents.GoTo,
        Theme.MOVE,
        moving.on_go_to,
        phrases="go to step <step_number>",
        means=lambda said: intents.GoTo(said.whole("step_number")),
        rule="go_to",
        help=("go to step twelve",),
        progress=(events.StepEntered,),
    ),
    # hear
    Command(
        intents.SayAgain,
        Theme.HEAR,
        telling.on_say_again,
        phrases="say again | repeat that",
        rule="say_again",
        help=("say again",),
        heard_in=_ANYWHERE,
        low_stakes=True,
        always=True,
        modes={Mode.CLOSED: telling.on_say_again},
    ),
    Command(
        intents.ReadBack,
        Theme.HEAR,
        telling.on_read_back,
        phrases="read back | what is recorded",
        rule="read_back",
        help=("read back",),
        low_stakes=True,
        always=True,
    ),
    Command(
        intents.WhereAreWe,
        Theme.HEAR,
        telling.on_where,
        phrases="where are we | which step",
        rule="where",
        help=("where are we",),
        low_stakes=True,
        always=True,
    ),
    Command(
        intents.WhatIsLeft,
        Theme.HEAR,
        telling.on_what_is_left,
        phrases="what is left | what remains",
        rule="left",
        help=("what is left",),
        low_stakes=True,
        always=True,
        modes={
            Mode.CLOSED: telling.on_what_is_left,
            Mode.TAKING_DOWN: answers_about_pieces.on_what_is_left,
        },
    ),
    Command(
        intents.HandOver,
        Theme.HEAR,
        handing_over.on_hand_over,
        phrases="hand over",
        rule="hand_over",
        help=("hand over",),
        low_stakes=True,
        always=True,
        modes={Mode.CLOSED: handing_over.on_hand_over},
    ),
    Command(
        intents.AskLastTime,
        Theme.HEAR,
        telling.on_last_time,
        phrases="last time",
        rule="last_time",
        help=("last time",),
        low_stakes=True,
        always=True,
        modes={Mode.CLOSED: telling.on_last_time},
    ),
    Command(
        intents.WhoIsHere,
        Theme.HEAR,
        attention.on_who_is_here,
        phrases="who is at the bench | who is here",
        rule="who_is_here",
        help=("who is at the bench",),
        low_stakes=True,
        always=True,
    ),
    Command(
        intents.Help,
        Theme.HEAR,
        telling.on_help,
        phrases="what words | which words | more words {all}",
        means=lambda said: intents.Help("all" in said.node.tags),
        help=("what words", "more words"),
        heard_in=_ANYWHERE,
        low_stakes=True,
        always=True,
    ),
    # ask
    Command(
        intents.Ask,
        Theme.ASK,
        asking.on_ask,
        phrases="(what | which) torque [<any_fastener>] {torque}"
        " | what torque in <torque_unit> {torque}"
        " | why {why} | tell me why {why}"
        " | what thread locker {locker} | which thread locker {locker}"
        " | what tool {tool} | which tools {tool}"
        " | what parts {parts} | which parts {parts}"
        " | which bag {bag} | what bag {bag}"
        " | how many {count}"
        " | how much {quantity}"
        " | what clamp load {clamp}"
        " | how much thread {thread}"
        " | what caution {hazard} | what hazards {hazard}"
        " | what size {size} | which bolt {size}"
        " | what limits {limits}"
        " | what order {order}"
        " | what setting {setting} | which wrench {wrench}"
        " | what mix {mix}"
        " | which way round {how} | more detail {detail} | tell me more {detail}",
        means=_ask,
        help=(
            "what torque",
            "what thread locker",
            "what tool",
            "what parts",
            "which bag",
            "what size",
            "what order",
            "what setting",
            "what mix",
            "why",
        ),
        low_stakes=True,
        always=True,
    ),
    Command(
        intents.OfSet,
        Theme.ASK,
        asking.on_of_set,
        phrases="what mean [<reading_name>] {mean} | what greatest [<reading_name>] {greatest}"
        " | what least [<reading_name>] {least}",
        means=_of_set,
        rule="of_set",
        help=("what mean", "what greatest", "what least"),
        low_stakes=True,
        always=True,
    ),
    Command(
        intents.WhereIs,
        Theme.ASK,
        answers_about_parts.on_where,
        phrases="where (is | are) [the] (<part> | <asked_fastener>)",
        means=lambda said: intents.WhereIs(said.part()),
        rule="where_is",
        help=("where are the circlips",),
        low_stakes=True,
        always=True,
    ),
    Command(
        intents.InBag,
        Theme.ASK,
        answers_about_parts.on_in_bag,
        phrases="what is in bag <step_number>",
        means=lambda said: intents.InBag(said.whole("step_number")),
        rule="in_bag",
        help=("what is in bag five",),
        low_stakes=True,
        always=True,
    ),
    Command(
        intents.OnOrder,
        Theme.ASK,
        answers_about_parts.on_what_is_on_order,
        phrases="what is on order",
        rule="on_order",
        help=("what is on order",),
        low_stakes=True,
        always=True,
    ),
    # record
    Command(
        intents.Tightened,
        Theme.RECORD,
        tightening.on_tightened,
        phrases="(tightened | torqued) [<taken_said>] [<fastener>] <quantity>"
        " [correction <quantity>]"
        " | all tightened <quantity> {all} | all turned <angle> {all}"
        " | bolt <bolt_number> [tightened] <quantity> | bolt <bolt_number> turned <angle>"
        " | turned [<fastener>] <angle>",
        means=_tightened,
        help=("tightened one four", "bolt four tightened one four", "all tightened one four"),
        modes={
            Mode.QUESTIONING: corrections.on_restate,
            Mode.REVIEWING: corrections.on_review_value,
        },
        records=(events.TorqueRecorded,),
        other=(events.ValueQuestioned,),
        corrects=events.TorqueRecorded,
        corrects_by_number=True,
    ),
    Command(
        intents.SecondCheck,
        Theme.RECORD,
        second_check.on_second_check,
        phrases="second check",
        rule="second_check",
        help=("second check",),
        records=(events.SecondChecked,),
    ),
    Command(
        intents.NextBolt,
        Theme.RECORD,
        tightening.on_next_bolt,
        phrases="next bolt",
        rule="next_bolt",
        help=("next bolt",),
        low_stakes=True,
        progress=(events.BoltCalled,),
    ),
    Command(
        intents.Reading,
        Theme.RECORD,
        recording.on_reading,
        phrases="(reading | measured) [<taken_said>] [<reading_name>] <quantity>"
        " [correction <quantity>]",
        means=_reading,
        help=("reading two four point nine",),
        modes={
            Mode.QUESTIONING: corrections.on_restate,
            Mode.REVIEWING: corrections.on_review_value,
        },
        records=(
            events.ReadingRecorded,
            events.ValueWorkedOut,
            events.LeakJudged,
            events.FluidMeasured,
            events.PartChosen,
        ),
        other=(events.ValueQuestioned,),
        corrects=events.ReadingRecorded,
        corrects_by_number=True,
    ),
    Command(
        intents.Bag,
        Theme.RECORD,
        recording.on_bag,
        phrases="[in] bag <step_number>",
        means=lambda said: intents.Bag(said.whole("step_number")),
        help=("bag three",),
        modes={Mode.QUESTIONING: corrections.on_restate},
        records=(events.BagRecorded,),
        other=(events.ValueQuestioned,),
        corrects=events.BagRecorded,
        corrects_by_number=True,
    ),
    Command(
        intents.Order,
        Theme.SUPPLY,
        recording.on_order,
        phrases="order [a | an | one] <one_part> | order <count> <many_parts>",
        means=lambda said: intents.Order(said.part(), said.whole("count")),
        help=("order two drain plugs",),
        modes={Mode.QUESTIONING: corrections.on_restate},
        records=(events.PartOrdered,),
        other=(events.ValueQuestioned,),
        corrects=events.PartOrdered,
        corrects_by_number=True,
    ),
    # answer
    Command(
        intents.Affirm,
        Theme.ANSWER,
        recording.on_affirm,
        phrases="affirm | affirmative | yes that is right",
        phrases_in={Mode.SKIPPING: "affirm"},
        help=("affirm",),
        heard_in=_ANYWHERE,
        modes={
            Mode.QUESTIONING: corrections.on_affirm_value,
            Mode.REVIEWING: corrections.on_review_next,
            Mode.CLOSING: moving.on_close_all_the_same,
            Mode.CHECKING: supplying.on_there,
            Mode.REVISING: revising.on_take,
        },
        records=(events.KitChecked,),
        progress=(events.HazardsHeard, events.ConditionAffirmed, events.KitItemChecked),
        other=(events.JobClosed, events.RevisionTaken, events.QuestionDropped),
    ),
    Command(
        intents.Negative,
        Theme.ANSWER,
        recording.on_negative,
        phrases="negative | no that is wrong",
        phrases_in={Mode.SKIPPING: "negative"},
        help=("negative",),
        heard_in=_ANYWHERE,
        modes={
            Mode.QUESTIONING: corrections.on_drop_value,
            Mode.SKIPPING: moving.on_drop_skip,
            Mode.CLOSING: moving.on_stay_open,
            Mode.CHECKING: supplying.on_not_there,
            Mode.CONCEDING: settling.on_drop_concession,
            Mode.REVIEWING: corrections.on_leave_review,
            Mode.REVISING: revising.on_leave,
            Mode.PLACING: sent.on_drop,
        },
        records=(events.KitChecked,),
        progress=(events.KitItemChecked,),
        other=(events.QuestionDropped,),
    ),
    Command(
        intents.Chosen,
        Theme.ANSWER,
        recording.on_chosen,
        phrases="<answer>",
        means=lambda said: intents.Chosen(said.words("answer") or ""),
        help=("the step's own answers, such as splined shaft",),
        records=(events.QuestionAnswered,),
        corrects=events.QuestionAnswered,
    ),
    Command(
        intents.PlainWord,
        Theme.ANSWER,
        attention.on_plain_word,
        phrases="yes {yes} | no {no} | undo {undo} | help {help}",
        means=_plain_word,
        rule="plain_word",
        help=("yes", "no", "undo", "help"),
        # People say these to each other all day: only while the assistant waits for an answer.
        heard_in=_ASKING,
        low_stakes=True,
        always=True,
        modes={Mode.CLOSED: attention.on_plain_word},
    ),
    # find
    Command(
        intents.Finding,
        Theme.FIND,
        recording.on_finding,
        phrases="(<part> | <other_fastener>) <condition> [<place>] [<disposition>] [<taken_said>]"
        " | one <one_part> <condition> [<place>] [<disposition>] [<taken_said>]"
        " | <count> (<many_parts> | <other_fastener>) <condition> [<place>] [<disposition>]"
        " [<taken_said>]"
        " | <place> (<part> | <other_fastener>) <condition> [<disposition>] [<taken_said>]",
        means=_finding,
        help=("a part and its condition, such as circlip missing upper renew",),
        records=(events.FindingRecorded,),
        corrects=events.FindingRecorded,
    ),
    Command(
        intents.Note,
        Theme.FIND,
        recording.on_note,
        phrases="note | make a note | note <GARBAGE> {speech}",
        phrases_in={Mode.NOTING: "<GARBAGE> {speech}"},
        means=lambda said: intents.Note(clipped="speech" in said.node.tags),
        help=("note, and your own words",),
        heard_in=(*_WHILE_SKIPPING, Mode.NOTING),
        modes={
            Mode.SKIPPING: moving.on_note_as_reason,
            Mode.NOTING: recording.on_take_note,
            Mode.CONCEDING: settling.on_reason_for_concession,
        },
        records=(events.NoteRecorded, events.Conceded),
        other=(events.NoteOpened,),
    ),
    Command(
        intents.AskCustomer,
        Theme.FIND,
        asking_customer.on_ask,
        phrases="ask [the] customer",
        rule="ask_customer",
        help=("ask customer",),
        records=(events.CustomerAsked,),
    ),
    Command(
        intents.Photo,
        Theme.FIND,
        photos.on_photo,
        phrases="photo | take a photo",
        help=("photo",),
    ),
    Command(
        intents.PictureReady,
        Theme.FIND,
        photos.on_ready,
        records=(events.PictureTaken,),
    ),
    Command(
        intents.PictureFailed,
        Theme.FIND,
        photos.on_failed,
    ),
    # supply
    Command(
        intents.Supply,
        Theme.SUPPLY,
        supplying.on_supply,
        # "Installed" and not "fitted", which begins the condition "fitted wrong". What is ordered
        # the parts desk enters.
        phrases="<part> (received {received} | installed {fitted} | cancelled {cancelled})"
        " [<count>]",
        means=_supply,
        help=("drain plug received", "drain plug installed", "drain plug cancelled"),
        modes={Mode.QUESTIONING: corrections.on_restate},
        records=(events.OrderMoved,),
        other=(events.ValueQuestioned,),
        corrects=events.OrderMoved,
        corrects_by_number=True,
    ),
    Command(
        intents.KitCheck,
        Theme.SUPPLY,
        supplying.on_kit_check,
        phrases="kit check | check the kit",
        rule="kit_check",
        help=("kit check",),
        other=(events.KitOpened,),
    ),
    Command(
        intents.Missing,
        Theme.SUPPLY,
        supplying.on_missing,
        phrases="<count> missing",
        means=lambda said: intents.Missing(said.whole("count")),
        help=("two missing",),
        heard_in=(Mode.CHECKING,),
        modes={Mode.CHECKING: supplying.on_missing},
        records=(events.KitChecked,),
        progress=(events.KitItemChecked,),
    ),
    # a job without a procedure
    Command(
        intents.Removed,
        Theme.TAKE_DOWN,
        taking_down.on_written,
        phrases="removed [the | one] <one_part> | removed <several> <many_parts> | removed piece",
        means=_removed,
        help=("removed six long bolts", "removed piece, for what has no name"),
        heard_in=_UNWRITTEN,
        modes={
            Mode.TAKING_DOWN: taking_down.on_removed,
            Mode.BUILDING_UP: taking_down.on_removed_late,
        },
        records=(events.PieceRemoved,),
        progress=(events.StepEntered, events.StepDone),
        other=(events.NoteOpened,),
    ),
    Command(
        intents.Recount,
        Theme.TAKE_DOWN,
        taking_down.on_written,
        phrases="make that (one | <several>)",
        means=lambda said: intents.Recount(said.whole("several")),
        help=("make that eight",),
        heard_in=_UNWRITTEN,
        modes=dict.fromkeys(_UNWRITTEN, counting.on_recount),
        records=(events.PieceChanged,),
    ),
    Command(
        intents.SomeOf,
        Theme.TAKE_DOWN,
        taking_down.on_written,
        phrases="<came_off> of <belong>",
        means=lambda said: intents.SomeOf(said.whole("came_off"), said.whole("belong")),
        rule="some_of",
        help=("four of six",),
        heard_in=_UNWRITTEN,
        modes=dict.fromkeys(_UNWRITTEN, counting.on_some_of),
        records=(events.PieceChanged, events.FindingRecorded),
    ),
    Command(
        intents.Rename,
        Theme.TAKE_DOWN,
        taking_down.on_written,
        phrases="call it [a | an | the] <one_part>",
        means=_rename,
        help=("call it inner cover",),
        heard_in=_UNWRITTEN,
        modes=dict.fromkeys(_UNWRITTEN, taking_down.on_rename),
        records=(events.PieceChanged,),
    ),
    Command(
        intents.Size,
        Theme.TAKE_DOWN,
        taking_down.on_written,
        phrases="size m <thread_size> [by <length>]",
        means=_size,
        help=("size m eight by fifty five",),
        heard_in=_UNWRITTEN,
        modes=dict.fromkeys(_UNWRITTEN, taking_down.on_size),
        records=(events.PieceChanged,),
    ),
    Command(
        intents.ThreadsFound,
        Theme.TAKE_DOWN,
        taking_down.on_written,
        phrases="thread locker found {thread locker} | found thread locker {thread locker}"
        " | found dry {dry} | threads dry {dry}",
        means=_threads,
        rule="threads_found",
        help=("thread locker found", "found dry"),
        heard_in=_UNWRITTEN,
        modes=dict.fromkeys(_UNWRITTEN, taking_down.on_threads),
        records=(events.PieceChanged,),
    ),
    Command(
        intents.LastOff,
        Theme.TAKE_DOWN,
        answers_about_pieces.on_what_came_off_last,
        phrases="what came off last",
        rule="last_off",
        help=("what came off last",),
        heard_in=_UNWRITTEN,
        low_stakes=True,
    ),
    Command(
        intents.StillOff,
        Theme.TAKE_DOWN,
        answers_about_pieces.on_still_off,
        phrases="what is still off",
        rule="still_off",
        help=("what is still off",),
        heard_in=_UNWRITTEN,
        low_stakes=True,
    ),
    Command(
        intents.HowManyOff,
        Theme.TAKE_DOWN,
        answers_about_pieces.on_how_many,
        phrases="how many <many_parts>",
        means=lambda said: intents.HowManyOff(said.noun().name),
        rule="how_many_off",
        help=("how many long bolts",),
        heard_in=_UNWRITTEN,
        low_stakes=True,
    ),
    Command(
        intents.PlayNote,
        Theme.TAKE_DOWN,
        taking_down.on_written,
        phrases="play note | play notes",
        rule="play_note",
        help=("play note",),
        heard_in=_UNWRITTEN,
        low_stakes=True,
        modes=dict.fromkeys(_UNWRITTEN, answers_about_pieces.on_play_note),
    ),
    Command(
        intents.StartBuildUp,
        Theme.BUILD_UP,
        taking_down.on_written,
        phrases="start build up | begin build up",
        rule="start_build_up",
        help=("start build up",),
        heard_in=_UNWRITTEN,
        modes={Mode.TAKING_DOWN: building_up.on_start, Mode.BUILDING_UP: building_up.on_begun},
        progress=(events.BuildUpBegun, events.StepEntered),
    ),
    Command(
        intents.SetTorque,
        Theme.BUILD_UP,
        taking_down.on_written,
        phrases="set torque [<part>] <quantity>",
        means=_set_torque,
        rule="set_torque",
        help=("set torque cover bolts two five",),
        heard_in=_UNWRITTEN,
        modes=dict.fromkeys(_UNWRITTEN, building_up.on_set_torque),
        records=(events.TorqueSet,),
    ),
    Command(
        intents.ThreadLocker,
        Theme.BUILD_UP,
        taking_down.on_written,
        phrases="thread locker (low {low} | medium {medium} | high {high}) [strength]",
        means=_thread_locker,
        rule="thread_locker",
        help=("thread locker medium",),
        heard_in=_UNWRITTEN,
        modes={
            Mode.TAKING_DOWN: building_up.on_locker_too_early,
            Mode.BUILDING_UP: building_up.on_thread_locker,
        },
        records=(events.LockerApplied,),
        corrects=events.LockerApplied,
    ),
    Command(
        intents.Installed,
        Theme.BUILD_UP,
        taking_down.on_written,
        phrases="installed <part>",
        means=lambda said: intents.Installed(said.noun().name),
        help=("installed end cover",),
        heard_in=_UNWRITTEN,
        modes={
            Mode.TAKING_DOWN: building_up.on_not_begun,
            Mode.BUILDING_UP: building_up.on_installed,
        },
        progress=(events.StepEntered, events.StepDone, events.OrderMoved),
    ),
    # what instruments and scanners send
    Command(
        intents.Sent,
        Theme.RECORD,
        sent.on_sent,
        modes={
            **dict.fromkeys(WAITING, sent.on_meanwhile),
            Mode.QUESTIONING: sent.on_answer,
            Mode.REVIEWING: sent.on_answer,
            Mode.PLACING: sent.on_sent,
            Mode.STANDING_BY: sent.on_standing_by,
        },
        other=(events.ValueSent, events.ValueQuestioned, events.QuestionDropped),
    ),
    Command(
        intents.Which,
        Theme.RECORD,
        attention.on_not_asked,
        phrases="<sent_for>",
        means=lambda said: intents.Which(" ".join(said.node.words())),
        help=("the name of the reading or the fastener",),
        heard_in=(Mode.PLACING,),
        modes={Mode.PLACING: sent.on_which},
        other=(events.ValueQuestioned, events.QuestionDropped),
    ),
    Command(
        intents.ScannedTag,
        Theme.RECORD,
        scanned.on_tag,
        modes={
            **dict.fromkeys(WAITING, scanned.on_meanwhile),
            Mode.QUESTIONING: scanned.on_tag_as_answer,
            Mode.STANDING_BY: scanned.on_standing_by,
        },
        other=(events.ValueQuestioned,),
    ),
    Command(
        intents.ScannedNumber,
        Theme.SUPPLY,
        scanned.on_number,
        modes={
            **dict.fromkeys(WAITING, scanned.on_meanwhile),
            Mode.CHECKING: scanned.on_number_in_kit,
            Mode.STANDING_BY: scanned.on_standing_by,
        },
        progress=(events.KitItemChecked,),
        other=(events.ValueQuestioned,),
    ),
    Command(
        intents.StartGroup,
        Theme.BUILD_UP,
        taking_down.on_written,
        phrases="start group",
        rule="start_group",
        help=("start group",),
        heard_in=_UNWRITTEN,
        modes=dict.fromkeys(_UNWRITTEN, arranging.on_start_group),
        records=(events.GroupBegun,),
    ),
    Command(
        intents.EndGroup,
        Theme.BUILD_UP,
        taking_down.on_written,
        phrases="end group",
        rule="end_group",
        help=("end group",),
        heard_in=_UNWRITTEN,
        modes=dict.fromkeys(_UNWRITTEN, arranging.on_end_group),
        records=(events.GroupEnded,),
        progress=(events.StepEntered,),
    ),
    Command(
        intents.PutBefore,
        Theme.BUILD_UP,
        taking_down.on_written,
        phrases="before [the] <goes_after> the <goes_first>",
        means=lambda said: intents.PutBefore(
            said.piece("goes_first").name, said.piece("goes_after").name
        ),
        rule="put_before",
        help=("before the end cover, the seal",),
        heard_in=_UNWRITTEN,
        modes=dict.fromkeys(_UNWRITTEN, arranging.on_put_before),
        records=(events.BuildOrderSaid,),
        progress=(events.StepEntered,),
        corrects=events.BuildOrderSaid,
    ),
    Command(
        intents.NotYet,
        Theme.BUILD_UP,
        taking_down.on_written,
        phrases="not yet",
        help=("not yet",),
        heard_in=_UNWRITTEN,
        modes={
            Mode.TAKING_DOWN: building_up.on_not_begun,
            Mode.BUILDING_UP: building_up.on_not_yet,
        },
        progress=(events.StepSkipped, events.StepEntered),
    ),
    # settle what fails
    Command(
        intents.WhatFailed,
        Theme.SETTLE,
        settling.on_what_failed,
        phrases="what failed | what has failed",
        rule="what_failed",
        help=("what failed",),
        low_stakes=True,
        always=True,
        modes={Mode.CLOSED: settling.on_what_failed},
    ),
    Command(
        intents.Retest,
        Theme.SETTLE,
        settling.on_retest,
        phrases="retest | test again",
        help=("retest",),
        progress=(events.RetestBegun, events.StepEntered),
    ),
    Command(
        intents.Rework,
        Theme.SETTLE,
        settling.on_rework,
        phrases="rework [step <step_number>]",
        means=lambda said: intents.Rework(said.count("step_number")),
        help=("rework step twelve",),
        progress=(events.ReworkBegun, events.StepEntered),
    ),
    Command(
        intents.Concession,
        Theme.SETTLE,
        settling.on_concession,
        phrases="concession | ask for concession",
        help=("concession",),
        other=(events.ConcessionAsked,),
    ),
    Command(
        intents.Again,
        Theme.RECORD,
        attention.on_nothing_to_repeat,
        phrases="again | measure again",
        help=("again",),
        heard_in=(Mode.QUESTIONING,),
        modes={Mode.QUESTIONING: corrections.on_again},
        records=(events.ReadingRecorded,),
    ),
    # mend
    Command(
        intents.Value,
        Theme.MEND,
        attention.on_bare_value,
        phrases="[<reading_name>] <quantity>",
        means=_value,
        rule="bare_value",
        help=("one four",),
        heard_in=(Mode.QUESTIONING, Mode.REVIEWING),
        modes={
            Mode.QUESTIONING: corrections.on_restate,
            Mode.REVIEWING: corrections.on_review_value,
        },
    ),
    Command(
        intents.Correction,
        Theme.MEND,
        corrections.on_correct,
        phrases="correction (<tightened> | <reading> | <bag> | <order> | <supply> | <finding>"
        " | <chosen> | <put_before> | <thread_locker> | <bare_value>)",
        means=lambda said: intents.Correction(said.inner()),
        help=("correction one four",),
        modes={
            Mode.QUESTIONING: corrections.on_restate,
            Mode.REVIEWING: corrections.on_review_value,
        },
        other=(events.Withdrawn,),
    ),
    Command(
        intents.Review,
        Theme.MEND,
        corrections.on_review,
        phrases="correction step <step_number>",
        means=lambda said: intents.Review(said.whole("step_number")),
        help=("correction step twelve",),
        other=(events.ReviewOpened,),
    ),
    Command(
        intents.Disregard,
        Theme.MEND,
        corrections.on_disregard,
        phrases="disregard | disregard that",
        help=("disregard",),
        heard_in=(*_ANYWHERE, Mode.NOTING),
        modes={
            Mode.QUESTIONING: corrections.on_drop_value,
            Mode.SKIPPING: moving.on_drop_skip,
            Mode.NOTING: recording.on_drop_note,
            Mode.CLOSING: moving.on_stay_open,
            Mode.CHECKING: supplying.on_leave_kit,
            Mode.CONCEDING: settling.on_drop_concession,
            Mode.REVIEWING: corrections.on_leave_review,
            Mode.REVISING: revising.on_leave,
            Mode.PLACING: sent.on_drop,
        },
        other=(events.Withdrawn, events.QuestionDropped),
    ),
    # time
    Command(
        intents.StartTimer,
        Theme.TIME,
        timers.on_start_timer,
        phrases="start [<timer_name>] timer [<duration>] | start the clock",
        means=_start_timer,
        rule="start_timer",
        help=("start drain timer ten minutes",),
        progress=(events.TimerStarted,),
    ),
    Command(
        intents.CancelTimer,
        Theme.TIME,
        timers.on_cancel_timer,
        # "Stop" would be heard as "start".
        phrases="cancel [<timer_name>] timer [<timer_number>]",
        means=lambda said: intents.CancelTimer(
            said.words("timer_name"), said.count("timer_number")
        ),
        rule="cancel_timer",
        help=("cancel drain timer",),
        progress=(events.TimerCancelled,),
    ),
    Command(
        intents.TimeLeft,
        Theme.TIME,
        timers.on_time_left,
        phrases="time left [<timer_name> [<timer_number>]] | how long left | when can i test",
        means=lambda said: intents.TimeLeft(said.words("timer_name"), said.count("timer_number")),
        rule="time_left",
        help=("time left",),
        low_stakes=True,
        always=True,
    ),
    Command(
        intents.Tick,
        Theme.TIME,
        timers.on_tick,
        always=True,
        modes={Mode.STANDING_BY: timers.on_tick, Mode.CLOSED: attention.on_silence},
        other=(events.TimerRang,),
    ),
    # voice and attention
    Command(
        intents.Speak,
        Theme.VOICE,
        attention.on_speak,
        phrases="[speak] (slower {slower} | faster {faster} | louder {louder} | softer {softer})",
        means=lambda said: intents.Speak(Change(said.tag())),
        help=("slower", "faster", "louder", "softer"),
        heard_in=_ANYWHERE,
        low_stakes=True,
        always=True,
        modes={Mode.CLOSED: attention.on_speak},
    ),
    Command(
        intents.SignOn,
        Theme.ATTEND,
        attention.on_sign_on,
        phrases="this is <technician> | <technician> (here | speaking)",
        means=lambda said: intents.SignOn(said.technician()),
        rule="sign_on",
        help=("this is, and your name",),
        always=True,
        other=(events.SignedOn,),
    ),
    Command(
        intents.StandBy,
        Theme.ATTEND,
        attention.on_stand_by,
        phrases="stand by",
        rule="stand_by",
        help=("stand by",),
        heard_in=(*_ANYWHERE, Mode.NOTING),
        always=True,
        other=(events.StoodBy,),
    ),
    Command(
        intents.Resume,
        Theme.ATTEND,
        attention.on_listening,
        phrases="resume | resume work",
        help=("resume",),
        heard_in=(*EVERYDAY, Mode.STANDING_BY),
        always=True,
        modes={Mode.STANDING_BY: attention.on_resume},
        other=(events.Resumed,),
    ),
    Command(
        intents.LeaveJob,
        Theme.ATTEND,
        attention.on_leave,
        phrases="set job aside | set this job aside",
        rule="leave_job",
        help=("set job aside",),
    ),
    Command(
        intents.CloseJob,
        Theme.ATTEND,
        moving.on_close,
        phrases="close job | close the job",
        rule="close_job",
        help=("close job",),
        progress=(events.StepDone, events.OrderMoved),
        other=(events.CloseAsked, events.JobClosed),
    ),
)

RULEBOOK = Rulebook(COMMANDS)
