"""The record against the journal of a job worked through at a real bench."""

from decimal import Decimal
from hashlib import sha256
from pathlib import Path

import pytest

from assistant.dialogue import events
from assistant.errors import AssistantError
from assistant.report import page, record
from assistant.report.model import Record
from tests.bench_helpers import SMALL, Hands
from tests.report.whole_job import FORMULA, HOSTILE, PROCEDURE, Job, Page


def test_the_heading_is_that_of_the_job(job: Job) -> None:
    built = job.record()
    assert (built.job, built.title, built.revision) == (1, "Tail box check", "C")
    assert built.equipment == "Pellwick Works TB two bench box"
    assert built.sample and built.by == ("sam",)
    assert built.opened == job.events[0].at
    assert (built.last, built.closed) == (job.events[-1].at, None)
    (stop,) = built.stops
    assert (stop.taken_up - stop.left).days == 3


def test_each_step_has_its_state_and_times(job: Job) -> None:
    built = job.record()
    assert {s.id: s.status for s in built.steps} == {
        "open": "done",
        "which": "done",
        "key": "not applicable",
        "measure": "done",
        "close": "done",
        "cure": "done",
        "gauge": "skipped",
        "paint": "started",
    }
    done = {e.step: e.at for e in job.of("step done")}
    entered = {e.step: e.at for e in job.of("step entered")}
    for step in built.steps:
        assert step.done == done.get(step.id)
        assert step.entered == entered.get(step.id)
        for line in step.lines:
            assert any(e.at == line.at and e.kind == line.kind for e in job.events)
    gauge = built.steps[6]
    assert gauge.reason == "part not here"
    assert gauge.skipped == job.of("step skipped")[0].at


def test_findings_and_notes_keep_how_they_were_heard(job: Job) -> None:
    built = job.record()
    (finding,) = built.findings
    assert (finding.part, finding.condition, finding.place) == ("circlip", "missing", "drum side")
    assert finding.heard == events.Heard(
        words="circlip missing drum side",
        confidence=0.87,
        recogniser="testear",
        clip=1,
        clip_sha256=sha256(job.clips[1]).hexdigest(),
    )
    assert finding.number == 1
    assert [note.text for note in built.notes] == [HOSTILE, FORMULA, None]
    assert built.notes[-1].heard is not None and built.notes[-1].heard.clip == 2


def test_readings_have_limits_in_figures_and_what_was_first_heard(job: Job) -> None:
    bore, shaft = job.record().readings
    assert (bore.value, bore.unit, bore.within) == (Decimal("25.10"), "mm", False)
    assert bore.limits == "24.95–25.05 mm"
    assert (shaft.value, shaft.within) == (Decimal("25.07"), None)
    assert shaft.first_heard == "24.98 mm"
    (clearance,) = job.record().worked_out
    assert (clearance.value, clearance.within) == (bore.value - shaft.value, True)
    (chosen,) = job.record().parts_chosen
    assert chosen.part == "thick shim"


def test_torques_come_pass_by_pass(job: Job) -> None:
    shown = [(t.stage, t.stages, t.asked, t.value, t.unit, t.within) for t in job.record().torques]
    assert shown == [
        (1, 3, Decimal(7), Decimal(7), "N·m", True),
        (2, 3, Decimal(14), Decimal(14), "N·m", True),
        (3, 3, Decimal(90), Decimal(90), "°", True),
    ]
    assert job.record().torques[1].first_heard == "40"


def test_orders_of_one_part_are_one_line(job: Job) -> None:
    plug, circlip = job.record().orders
    assert (plug.part, plug.part_number, plug.count) == ("drain plug", "=TB-1", 3)
    assert [one.count for one in plug.orders] == [2, 1]
    assert [one.at for one in plug.orders] == [e.at for e in job.of("part ordered")[:2]]
    assert (circlip.part, circlip.count, circlip.orders[0].by) == ("circlip", 2, "sam")


def test_bags_timers_cautions_conditions_and_answers(job: Job) -> None:
    built = job.record()
    (bag,) = built.bags
    assert (bag.bag, bag.within, bag.first_heard) == (1, True, "bag 7")
    assert bag.contents is not None and "plate bolts" in bag.contents
    (timer,) = built.timers
    assert (timer.name, timer.seconds, timer.for_wait) == ("cure", 600, True)
    assert timer.rang == job.of("timer rang")[0].at
    assert [h.texts for h in built.hazards] == [("warning: The spring is under load.",)]
    assert [c.texts for c in built.conditions] == [("Is the box clean?",)]
    (answer,) = built.answers
    assert (answer.question, answer.answer) == ("Which shaft is it?", "splined shaft")


def test_what_was_questioned_says_what_came_of_it(job: Job) -> None:
    shown = [(q.first_heard, q.outcome, q.recorded) for q in job.record().questioned]
    assert shown == [
        ("1 drain plug", "a further one", "order 1 drain plug"),
        ("bag 7", "said anew", "bag 1"),
        ("25.10", "affirmed", "bore 25.10 mm, outside the limits"),
        ("40", "said anew", "long bolt, pass 2 of 3, tightened 14 N·m"),
    ]


def test_what_was_taken_back_stays_to_be_seen(job: Job) -> None:
    built = job.record()
    finding, reading = built.withdrawn
    assert (finding.what, finding.corrected, finding.instead) == ("drain plug worn", False, None)
    assert finding.withdrawn_at == job.of("withdrawn")[0].at
    assert reading.what == "shaft 24.98 mm"
    assert (reading.corrected, reading.instead) == (True, "shaft 25.07 mm")
    gone = [(line.what, line.gone) for step in built.steps for line in step.lines if line.gone]
    assert gone == [
        ("drain plug worn", "taken back"),
        ("shaft 24.98 mm", "taken back"),
        ("clearance comes to 0.12 mm, outside the limits", "another since"),
        ("use thick shim, though clearance fails", "another since"),
    ]


def test_the_summary_says_what_stands_out_the_gravest_first(job: Job) -> None:
    summary = job.record().summary
    assert not summary.complete
    assert (summary.applicable, summary.done, summary.skipped, summary.started) == (7, 5, 1, 1)
    assert [(item.kind, item.step) for item in summary.stands_out] == [
        ("fails", "measure"),
        ("skipped", "gauge"),
        ("doubtful", "measure"),
        ("questioned", "open"),
        ("questioned", "close"),
        ("withdrawn", "open"),
        ("corrected", "measure"),
    ]


def test_the_record_is_the_same_each_time_and_reads_back_from_its_json(job: Job) -> None:
    built = job.record()
    text = built.model_dump_json()
    assert job.record().model_dump_json() == text
    assert Record.model_validate_json(text) == built
    assert '"at":"2031-03-04T11:00:20+02:00"' in text


@pytest.fixture
def hands(tmp_path: Path) -> Hands:
    return Hands(tmp_path / "journal.db", PROCEDURE)


def _built(hands: Hands) -> Record:
    history = hands.bench.journal.events(hands.bench.job)
    return record.build(history, hands.procedure, hands.bench.job)


def test_a_skip_shows_what_was_outstanding_until_the_step_is_done(hands: Hands) -> None:
    hands.say("skip step", "tool not here")
    (skipped,) = _built(hands).summary.stands_out
    assert skipped.kind == "skipped"
    assert "Outstanding: warning to affirm" in skipped.details
    assert "Outstanding: bag 1" in skipped.details
    hands.say("previous step", "affirm", "bag one", "next step")
    built = _built(hands)
    assert built.steps[0].status == "done"
    assert not built.summary.stands_out


def test_a_skip_taken_back_is_no_skip(hands: Hands) -> None:
    hands.say("skip step", "tool not here", "disregard")
    built = _built(hands)
    assert built.steps[0].status == "started"
    assert [w.kind for w in built.summary.stands_out] == ["withdrawn"]


def test_a_step_behind_an_open_question_may_yet_come(hands: Hands) -> None:
    assert [s.status for s in _built(hands).steps][:3] == ["started", "not reached", "not reached"]
    hands.say("affirm", "bag one", "next step", "keyed shaft", "next step")
    assert _built(hands).steps[2].status == "started"


def test_a_value_put_right_in_one_breath_stands_out(hands: Hands) -> None:
    hands.say("affirm", "bag one", "next step", "splined shaft", "next step")
    hands.say("reading bore 25.03 correction 25.02")
    (slip,) = _built(hands).summary.stands_out
    assert (slip.kind, slip.what) == ("corrected", "bore 25.02 mm")


def test_a_question_that_came_to_nothing(hands: Hands) -> None:
    hands.say("affirm", "bag seven")
    assert _built(hands).questioned[0].outcome == "open"
    hands.say("negative")
    assert _built(hands).questioned[0].outcome == "nothing recorded"
    assert not _built(hands).bags


def test_an_order_that_was_affirmed_and_then_withdrawn(hands: Hands) -> None:
    hands.say("order twenty drain plugs", "affirm")
    (item,) = _built(hands).summary.stands_out
    assert (item.kind, item.what) == ("affirmed", "order 20 drain plugs")
    hands.say("disregard")
    built = _built(hands)
    assert not built.orders
    assert [item.kind for item in built.summary.stands_out] == ["questioned", "withdrawn"]
    assert built.questioned[0].since_withdrawn


def test_a_second_order_of_the_same_part_overrides_nothing(hands: Hands) -> None:
    hands.say("order one circlip", "order one circlip", "affirm")
    of = _built(hands)
    (asked,) = of.questioned
    assert (asked.outcome, asked.recorded) == ("a further one", "order 1 circlip")
    assert (of.summary.overridden, of.summary.to_order) == (0, 2)
    assert not of.summary.stands_out
    hands.say("disregard")
    of = _built(hands)
    assert of.questioned[0].since_withdrawn
    assert (of.summary.overridden, of.summary.to_order) == (0, 1)
    # One that is said to be for more than there are is overridden.
    hands.say("order nine drain plugs", "affirm")
    assert _built(hands).summary.overridden == 1


def test_a_job_done_and_closed_is_complete(hands: Hands) -> None:
    hands.say("affirm", "bag one", "next step", "splined shaft", "next step")
    hands.say("reading bore 25.00", "reading shaft 24.99", "next step", "affirm")
    hands.say("tightened seven", "tightened fourteen", "turned nine zero degrees", "next step")
    hands.say("start timer")
    hands.wait(minutes=11)
    hands.say("next step", "next step", "next step", "close job")
    built = _built(hands)
    assert built.summary.complete
    assert built.closed == built.last
    assert not built.summary.stands_out


def test_a_job_closed_with_work_left_is_not(hands: Hands) -> None:
    hands.say("close job", "affirm")
    summary = _built(hands).summary
    assert not summary.complete
    (left,) = summary.stands_out
    assert left.kind == "left undone"
    assert any("strip-down" in detail for detail in left.details)


MEASURED = """\
procedure: trade-box
title: Trade box
revision: A
equipment: {kind: test box}
wrenches:
  - {name: small wrench, least: 5 N·m, most: 25 N·m, graduation: 0.5 N·m,
     calibrated: 2029-01-15, interval_months: 12}
parts: [{name: thin shim}, {name: thick shim}]
stages:
  - name: work
    steps:
      - id: bolt
        say: Tighten the bolt.
        fasteners: [{name: long bolt, count: 1, thread: M8}]
        tighten: [{fastener: long bolt, torque: 14 N·m, wrench: small wrench}]
      - id: hold
        say: Hold the pressure.
        readings: [{name: start pressure, unit: bar}, {name: final pressure, unit: bar}]
        leak: {start: start pressure, final: final pressure, allowed: 0.015 bar}
      - id: drain
        say: Drain it.
        readings: [{name: drained, unit: l}]
        fluid: {name: gear oil, capacity: 1.1 l, of: drained, drains: true}
      - id: gap
        say: Measure the gap.
        readings: [{name: gap, unit: mm, resolution: 0.01 mm, limits: {most: 0.5 mm}}]
        choice:
          of: gap
          rows: [{up_to: 0.5 mm, part: thin shim}, {over: 0.5 mm, part: thick shim}]
"""


def test_what_is_doubtful_or_judged_from_readings_stands_out(tmp_path: Path) -> None:
    hands = Hands(tmp_path / "journal.db", MEASURED)
    hands.say("tightened fourteen", "next step", "reading 0.3", "reading 0.27")
    hands.say("concession", "note as it is", "next step")
    hands.say("reading 0.9", "concession", "note refilled later", "next step", "reading 0.50")
    built = _built(hands)
    (torque,) = built.torques
    assert torque.within and torque.wrench == "small wrench"
    assert torque.warning is not None and "out of calibration" in torque.warning
    (test,) = built.leak_tests
    assert (test.outcome, test.lost, test.within) == ("fail", Decimal("0.03"), False)
    assert test.what == "leak test: fail, lost 0.03 bar, 0.015 bar allowed"
    (fluid,) = built.fluids
    assert fluid.what == "gear oil: 0.9 of 1.1 L came out, 0.2 L missing"
    assert built.readings[-1].too_close
    assert built.parts_chosen[0].unsure == "thick shim"
    shown = [(item.kind, item.step) for item in built.summary.stands_out]
    assert shown == [
        ("conceded", "hold"),
        ("conceded", "drain"),
        ("doubtful", "bolt"),
        ("doubtful", "gap"),
        ("doubtful", "gap"),
    ]
    parsed = Page(page.html(built, {}))
    assert "out of calibration" in parsed.rows("torques")[1][7]
    leak, oil = parsed.rows("leaks")[1:]
    assert leak[1:5] == ["leak test", "as left", "lost 0.03 bar", "at most 0.015 bar"]
    assert leak[5] == "fail no temperatures taken"
    assert oil[5] == "not as asked 0.2 L missing"
    readings = next(t for t in parsed.rows("readings") if "gap" in t)
    assert "too close to call" in readings[6]
    assert "Not to be worked from" not in parsed.text


def test_events_without_an_opening_are_refused(job: Job) -> None:
    with pytest.raises(AssistantError, match="Job 9 does not start"):
        record.build(job.events[1:], job.hands.procedure, 9)
    with pytest.raises(AssistantError):
        record.build((), job.hands.procedure, 9)


def test_orders_have_what_became_of_them(hands: Hands) -> None:
    hands.say("affirm", "order two drain plugs", "order circlip", "drain plug received one")
    hands.say("circlip cancelled")
    built = _built(hands)
    plug, circlip = built.orders
    assert (plug.count, plug.asked, plug.received) == (2, 1, 1)
    assert (circlip.count, circlip.cancelled) == (1, 1)
    assert (built.summary.to_order, built.summary.to_come) == (2, 1)
    rows = Page(page.html(built, {})).rows("orders")[1:]
    assert [row[3] for row in rows] == ["1 asked, 1 received", "1 cancelled"]


def test_an_order_that_is_cancelled_renews_nothing(hands: Hands) -> None:
    hands.say("affirm", "circlip worn", "order circlip")
    assert _built(hands).findings[0].judgement.disposition == "renew"
    hands.say("circlip cancelled")
    assert _built(hands).findings[0].judgement.disposition == "refer"


def test_what_was_done_is_told_with_its_part_and_place(job: Job) -> None:
    built = job.record()
    parsed = Page(page.html(built, job.clips))
    assert "Circlip missing serious renew 2 asked for" in parsed.text
    assert "Drum side" in parsed.text
    (span,) = [s for s in built.spans if s.kind == "stopped"]
    assert (span.ended - span.begun).days == 3


def test_the_setting_of_the_wrench_is_worked_out_with_adapter_and_graduation(
    tmp_path: Path,
) -> None:
    text = MEASURED.replace("graduation: 0.5 N·m,", "graduation: 0.5 N·m, length: 250 mm,").replace(
        "wrench: small wrench}]", "wrench: small wrench, adapter: 50 mm}]"
    )
    hands = Hands(tmp_path / "journal.db", text)
    hands.say("tightened fourteen")
    (torque,) = _built(hands).torques
    # 14 N·m × 250 / (250 + 50) = 11.67, to the nearest half: the lever rule, from memory.
    assert (torque.setting, torque.setting_unit) == (Decimal("11.5"), "N·m")
    assert (torque.tolerance, torque.bolts, torque.asked_ucum) == (5, 1, "N.m")


def test_limits_in_another_unit_are_numbers_of_the_readings_own(hands: Hands) -> None:
    hands.say("affirm", "bag one", "next step", "splined shaft", "next step")
    hands.say("reading bore zero point nine eight five inches")
    (reading,) = _built(hands).readings
    assert (reading.value, reading.unit, reading.ucum) == (Decimal("0.985"), "in", "[in_i]")
    # 24.95 mm and 25.05 mm; the inch is 25.4 mm by definition.
    assert reading.least is not None and reading.most is not None
    assert float(reading.least) == pytest.approx(24.95 / 25.4, rel=1e-8)
    assert float(reading.most) == pytest.approx(25.05 / 25.4, rel=1e-8)


def test_a_part_that_came_is_fitted_when_its_step_is_done(tmp_path: Path) -> None:
    fits = SMALL.replace(
        "        bag: 1\n", "        bag: 1\n        fit: [{part: drain plug}]\n", 1
    )
    hands = Hands(tmp_path / "a.db", fits)

    def stands() -> tuple[int, int, int]:
        built = record.build(hands.bench.journal.events(1), hands.procedure, 1)
        (order,) = built.orders
        assert not order.installed_unsaid
        return order.asked, order.received, order.fitted

    hands.say("affirm", "order one drain plug", "bag one", "next step")
    assert stands() == (1, 0, 0)  # Nothing came, so the step is not done.
    hands.say("drain plug received")
    assert stands() == (0, 1, 0)
    hands.say("next step")
    assert stands() == (0, 0, 1)


def test_a_part_that_stays_received_though_its_step_is_done_is_marked(tmp_path: Path) -> None:
    fits = SMALL.replace(
        "        bag: 1\n", "        bag: 1\n        fit: [{part: drain plug}]\n", 1
    )
    hands = Hands(tmp_path / "a.db", fits)
    hands.say("affirm", "order two drain plugs", "drain plugs received", "bag one", "next step")
    built = record.build(hands.bench.journal.events(1), hands.procedure, 1)
    (order,) = built.orders
    assert (order.received, order.fitted, order.installed_unsaid) == (1, 1, True)
    assert "received, not said to be installed" in page.html(built, {})


def test_a_part_that_came_before_its_step_is_not_marked(tmp_path: Path) -> None:
    fits = SMALL.replace(
        "        bag: 1\n", "        bag: 1\n        fit: [{part: drain plug}]\n", 1
    )
    hands = Hands(tmp_path / "a.db", fits)
    hands.say("affirm", "order one drain plug", "drain plug received")
    built = record.build(hands.bench.journal.events(1), hands.procedure, 1)
    assert not built.orders[0].installed_unsaid
