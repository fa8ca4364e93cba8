"""The arithmetic of the trade at a step, by typed phrases, and what is then on disk."""

from __future__ import annotations

from datetime import date
from decimal import Decimal
from pathlib import Path

import pytest

from assistant.dialogue import events, facts, results
from assistant.procedure import reading
from tests.bench_helpers import Hands

HEAD = """\
procedure: trade-box
title: Trade box
revision: A
sample: true
equipment: {kind: test box}
wrenches:
  - {name: small wrench, least: 5 N·m, most: 25 N·m, graduation: 0.5 N·m, length: 250 mm,
     calibrated: 2030-01-15, interval_months: 12}
  - {name: large wrench, least: 20 N·m, most: 100 N·m, graduation: 1 N·m, length: 400 mm,
     calibrated: 2031-01-15}
  - {name: pound wrench, least: 10 lbf·ft, most: 80 lbf·ft, graduation: 1 lbf·ft}
parts:
  - {name: cover}
  - {name: thin shim}
  - {name: thick shim}
stages:
  - name: Work
    steps:
"""


def hands(path: Path, *steps: str) -> Hands:
    """Return hands at the first of the steps."""
    return Hands(path / "journal.db", HEAD + "".join(steps))


COVER = """\
      - id: cover
        say: Tighten the cover.
        fasteners: [{name: cover bolt, count: 6, thread: M8, grade: "8.8"}]
        tighten:
          - {fastener: cover bolt, passes: [12 N·m], torque: 24 N·m, order: star,
             circular_pass: true, wrench: small wrench}
"""
LAST = """\
      - id: last
        say: Look it over.
"""


# wrench


def test_what_setting_gives_the_wrench_that_the_step_names(tmp_path: Path) -> None:
    at = hands(tmp_path, COVER)
    assert at.say("what setting") == "Cover bolt, small wrench, set one two newton metres."
    at.say("tightened one two")
    assert at.say("what setting") == "Cover bolt, small wrench, set two four newton metres."


def test_a_setting_with_an_adapter_and_its_rounding(tmp_path: Path) -> None:
    # 70·400/(400 + 60) = 60.87 N·m at the drive, worked by hand; 61 is 0.2 % high.
    step = """\
      - id: nut
        say: Tighten the nut.
        fasteners: [{name: shaft nut, count: 1, thread: M20x1.5}]
        tighten: [{fastener: shaft nut, torque: 70 N·m, adapter: 60 mm, wrench: large wrench}]
"""
    said = hands(tmp_path, step).say("what setting")
    assert said == (
        "Shaft nut, large wrench, with the adapter, for seven zero point one newton metres at the "
        "nut, zero point two percent high, set six one newton metres."
    )


def test_a_setting_in_the_unit_of_the_wrench(tmp_path: Path) -> None:
    # 24 N·m is 17.7 lbf·ft (NIST SP 811, B.8); 18 is 1.7 % high.
    at = hands(tmp_path, COVER.replace("small", "pound").replace("12 N·m", "20 N·m"))
    at.say("tightened two zero")
    assert at.say("what setting") == (
        "Cover bolt, pound wrench, one point seven percent high, set one eight foot pounds."
    )


def test_an_adapter_at_a_right_angle_changes_nothing(tmp_path: Path) -> None:
    step = """\
      - id: nut
        say: Tighten the nut.
        fasteners: [{name: shaft nut, count: 1, thread: M20x1.5}]
        tighten: [{fastener: shaft nut, torque: 70 N·m, adapter: 60 mm, adapter_angle: 90 deg}]
"""
    assert "set seven zero newton metres" in hands(tmp_path, step).say("what setting")


def test_out_of_range_another_wrench_is_proposed_and_the_record_warns(tmp_path: Path) -> None:
    step = """\
      - id: foot
        say: Tighten the feet.
        fasteners: [{name: foot bolt, count: 2, thread: M12}]
        tighten: [{fastener: foot bolt, torque: 80 N·m, wrench: small wrench}]
"""
    at = hands(tmp_path, step)
    said = at.say("what setting")
    assert "outside the good range of the small wrench" in said
    assert said.endswith("use the large wrench, set eight zero newton metres.")
    assert "outside the good range of the small wrench" in at.say("tightened eight zero")
    (recorded,) = at.events("torque recorded")
    assert isinstance(recorded, events.TorqueRecorded)
    assert recorded.within
    assert recorded.wrench == "small wrench"
    assert facts.OutsideGoodRange() in recorded.doubts


def test_a_wrench_out_of_calibration_is_a_warning_in_the_record(tmp_path: Path) -> None:
    at = hands(tmp_path, COVER)
    said = at.say("tightened one two")
    assert "out of calibration, since fifteen january two zero three one" in said
    (recorded,) = at.events("torque recorded")
    assert isinstance(recorded, events.TorqueRecorded)
    assert recorded.doubts == (facts.OutOfCalibration(due=date(2031, 1, 15)),)
    assert "out of calibration" in at.say("read back")


def test_a_wrench_in_calibration_gives_no_warning(tmp_path: Path) -> None:
    at = hands(tmp_path, COVER.replace("12 N·m", "22 N·m").replace("small", "large"))
    at.say("tightened two two")
    (recorded,) = at.events("torque recorded")
    assert isinstance(recorded, events.TorqueRecorded)
    assert (recorded.wrench, recorded.doubts) == ("large wrench", ())


# order


def test_bolts_are_called_one_at_a_time_through_the_passes(tmp_path: Path) -> None:
    at = hands(tmp_path, COVER)
    # Six bolts, by opposite pairs (order.star).
    assert "in turn, one, four, two, five, three and six" in at.say("what order")
    first = at.say("next bolt")
    assert first == "Cover bolt, pass one of three, one two newton metres. Bolt one."
    assert at.say("next bolt") == "Bolt four."
    at.say("next bolt", "next bolt", "next bolt")
    assert at.say("next bolt") == (
        "Bolt six. The last of pass one. Say tightened one two newton metres for each, or all "
        "tightened."
    )
    assert at.say("next bolt").startswith("That was every bolt of pass one.")
    assert len(at.events("bolt called")) == 6
    at.say("all tightened one two")
    assert "two four newton metres. Bolt one." in at.say("next bolt")
    at.say("all tightened two four")
    assert "once round, two four newton metres. Bolt one." in at.say("next bolt")
    assert at.say("next bolt") == "Bolt two."
    at.say("all tightened two four")
    assert "Every torque" in at.say("next bolt")


def test_a_resumed_job_goes_on_with_the_bolt_that_is_next(tmp_path: Path) -> None:
    at = hands(tmp_path, COVER)
    at.say("next bolt", "next bolt")
    at.stop_and_take_up(days=2)
    assert at.say("next bolt") == "Bolt two."
    assert "bolt two" in at.say("disregard")
    assert at.say("next bolt") == "Bolt two."


def test_loosening_is_the_reverse(tmp_path: Path) -> None:
    step = """\
      - id: off
        say: Take the cover off.
        fasteners: [{name: cover bolt, count: 4, thread: M8}]
        loosen: [{fastener: cover bolt, order: [2, 3, 1, 4]}]
"""
    said = hands(tmp_path, step).say("what order")
    assert "reverse" in said
    assert said.endswith("four, one, three and two.")


@pytest.mark.parametrize(
    ("order", "said"),
    [
        ("circle", "one, two, three, four, five and six."),
        # Two rows of three: the middle of each first, then the corners, clockwise from the top.
        ("spiral, rows: 2", "two, five, three, six, four and one."),
        ("[3, 4, 2, 5, 1, 6]", "three, four, two, five, one and six."),
    ],
)
def test_other_orders(tmp_path: Path, order: str, said: str) -> None:
    at = hands(tmp_path, COVER.replace("order: star", f"order: {order}"))
    assert at.say("what order").endswith(said)
    assert at.say("next bolt").endswith(f"Bolt {said.split(',')[0]}.")


def test_an_angle_is_a_pass_of_its_own(tmp_path: Path) -> None:
    step = COVER.replace("circular_pass: true", "angle: 90 deg")
    at = hands(tmp_path, step)
    at.say("tightened one two", "tightened two four")
    assert "turn nine zero degrees. Bolt one." in at.say("next bolt")
    at.say("turned ninety degrees", "disregard")
    assert at.say("next bolt") == "Bolt four."


def test_a_step_without_torque_has_no_next_bolt(tmp_path: Path) -> None:
    assert "asks for no torque" in hands(tmp_path, LAST).say("next bolt")


# thread-locker

LOCKED = """\
      - id: nut
        say: Tighten the nut.
        fasteners: [{name: shaft nut, count: 1, thread: M20x1.5}]
        tighten:
          - {fastener: shaft nut, torque: 70 N·m, lubricated: thread-locker,
             locker: {strength: high}}
      - id: cure
        say: Let it cure.
        wait:
          purpose: cure
          locker: {strength: high, temperature: 40 °C, use: pressure test}
          since: nut
"""


def test_the_cure_runs_since_the_joint_was_tightened(tmp_path: Path) -> None:
    # Full cure of the generic table, 24 h at 22 °C, half of that at 40 °C.
    at = hands(tmp_path, LOCKED, LAST)
    assert "No timer" in at.say("time left")
    at.say("tightened seven zero")
    assert "eleven hours and fifty nine minutes" in at.say("when can i test")
    at.say("next step")
    at.wait(hours=2)
    assert "cure, nine hours and fifty nine minutes left" in at.say("where are we")
    said = at.say("next step")
    assert "Outstanding: the cure" in said
    assert "We stay" in said
    assert "left" in at.say("start timer")
    assert not at.events("timer started")
    assert "The cure is up" in at.wait(hours=10)
    assert "Step three" in at.say("next step")


def test_any_wait_may_run_since_a_joint_was_tightened(tmp_path: Path) -> None:
    step = LOCKED.replace(
        "locker: {strength: high, temperature: 40 °C, use: pressure test}", "time: 30 min"
    )
    at = hands(tmp_path, step, LAST)
    at.say("tightened seven zero", "next step")
    at.wait(minutes=31)
    assert "Step three" in at.say("next step")


def test_moving_on_before_the_cure_is_an_override_in_the_record(tmp_path: Path) -> None:
    at = hands(tmp_path, LOCKED, LAST)
    at.say("tightened seven zero", "next step", "skip step", "told to leave it")
    (skipped,) = at.events("step skipped")
    assert isinstance(skipped, events.StepSkipped)
    assert skipped.reason == facts.SkipReason(code="told to leave it")
    (wait,) = skipped.outstanding
    assert isinstance(wait, facts.TimeToPass)
    assert (wait.purpose, wait.seconds, wait.left) == ("cure", 12 * 3600, 12 * 3600 - 30)


def test_a_joint_that_was_never_tightened_starts_no_clock(tmp_path: Path) -> None:
    at = hands(tmp_path, LOCKED, LAST)
    at.say("skip step", "do it later")
    assert "start timer" in at.say("next step")
    assert "started" in at.say("start timer")


def test_high_strength_is_undone_with_heat(tmp_path: Path) -> None:
    at = hands(tmp_path, LOCKED)
    for phrase in ("what caution", "more detail"):
        assert "Heat the joint to about two hundred and fifty degrees" in at.say(phrase)


# readings

MEASURE = """\
      - id: measure
        say: Measure bore and shaft.
        readings:
          - {name: bore, unit: mm, resolution: 0.01 mm,
             limits: {least: 24.95 mm, most: 25.05 mm}, plausible: {least: 20 mm, most: 30 mm}}
          - {name: shaft, unit: mm, resolution: 0.01 mm}
        derived:
          - {name: clearance, formula: bore - shaft, unit: mm, limits: {most: 0.05 mm}}
        choice:
          of: clearance
          rows:
            - {up_to: 0.03 mm, part: thin shim}
            - {over: 0.03 mm, part: thick shim}
      - id: float
        say: Measure the float.
        readings:
          - {name: end float, unit: mm, resolution: 0.01 mm,
             limits: {least: 0 mm, most: 0.1 mm}, plausible: {least: 0 mm, most: 2 mm}}
"""


def test_a_reading_too_close_to_its_limit_says_so(tmp_path: Path) -> None:
    # Resolution 0.01 mm: 2·0.01/√12 = 0.0058 mm either way (GUM F.2.2.1).
    at = hands(tmp_path, MEASURE)
    assert "too close to the limits to call" in at.say("reading 25.05")
    said = at.say("reading 25.00")
    # The two together: 0.0058·√2 = 0.0082 mm, and 0.05 is at its limit.
    assert "Clearance comes to zero point zero five millimetres, too close" in said
    bore, shaft = at.events("reading recorded")
    assert isinstance(bore, events.ReadingRecorded)
    assert isinstance(shaft, events.ReadingRecorded)
    assert (bore.within, bore.too_close, shaft.too_close) == (True, True, False)
    (worked,) = at.events("value worked out")
    assert isinstance(worked, events.ValueWorkedOut)
    assert worked.uncertainty == Decimal("0.0082")
    assert (worked.within, worked.too_close) == (True, True)


def test_a_reading_well_inside_is_not_in_doubt(tmp_path: Path) -> None:
    at = hands(tmp_path, MEASURE)
    assert "too close" not in at.say("reading 25.04")
    assert "too close" not in at.say("reading 25.03")
    (chosen,) = at.events("part chosen")
    assert isinstance(chosen, events.PartChosen)
    assert (chosen.part, chosen.unsure) == ("thin shim", None)


def test_a_reading_just_outside_is_questioned_as_too_close(tmp_path: Path) -> None:
    at = hands(tmp_path, MEASURE.replace("resolution: 0.01", "resolution: 0.05"))
    assert "too close to call" in at.say("reading 25.06")


def test_a_part_chosen_near_the_border_names_its_neighbour(tmp_path: Path) -> None:
    at = hands(tmp_path, MEASURE)
    at.say("reading 25.03")
    assert "close to thick shim: measure again" in at.say("reading 25.00")


def test_a_gap_of_nothing_is_not_too_close_to_a_limit_of_nothing(tmp_path: Path) -> None:
    at = hands(tmp_path, MEASURE)
    at.say("reading 25.03", "reading 25.01", "next step")
    assert "too close" not in at.say("reading zero")


def test_wear_is_told_as_a_share_of_what_is_allowed(tmp_path: Path) -> None:
    step = """\
      - id: tooth
        say: Measure the tooth.
        readings: [{name: tooth, unit: mm, new: 8 mm, service_limit: 7.4 mm}]
"""
    at = hands(tmp_path, step)
    # (8 - 7.62) of (8 - 7.4) mm.
    assert "worn six three percent" in at.say("reading 7.62")
    (taken,) = at.events("reading recorded")
    assert isinstance(taken, events.ReadingRecorded)
    assert taken.wear == 63


# leak test

LEAK = """\
      - id: hold
        say: Hold the pressure.
        readings:
          - {name: start pressure, unit: bar}
          - {name: start temperature, unit: °C}
          - {name: final pressure, unit: bar}
          - {name: final temperature, unit: °C}
        leak: {start: start pressure, final: final pressure, start_temperature: start temperature,
               final_temperature: final temperature, allowed: 0.015 bar, volume: 4 l, time: 10 min}
"""


def test_a_leak_test_is_corrected_for_temperature_and_judged(tmp_path: Path) -> None:
    # 1.31325 bar absolute at 293.15 K is 1.30429 at 291.15 K, worked by hand: 0.0090 bar of the
    # 0.010 that the gauge lost is temperature. What is left, at the first temperature:
    # 1.31325 - 1.30325·293.15/291.15 = 0.0010 bar.
    at = hands(tmp_path, LEAK)
    at.say("reading 0.3", "reading 20", "reading 0.29")
    said = at.say("reading 18")
    assert "Leak test pass" in said
    assert "lost zero point zero zero one of zero point zero one five bar allowed" in said
    (judged,) = at.events("leak test")
    assert isinstance(judged, events.LeakJudged)
    assert (judged.outcome, judged.within) == ("pass", True)
    assert judged.measured == Decimal("0.01")
    assert float(judged.lost) == pytest.approx(0.0010, abs=1e-4)
    # 1.0 mbar·4 l in 600 s.
    assert float(judged.rate or 0) == pytest.approx(0.0070, abs=5e-4)


def test_a_leak_test_that_fails_stands_out_and_is_judged_anew_when_corrected(
    tmp_path: Path,
) -> None:
    at = hands(tmp_path, LEAK)
    at.say("reading 0.3", "reading 20", "reading 0.27")
    assert "Leak test fail" in at.say("reading 20")
    assert "Leak test pass" in at.say("correction reading 15")
    (follows,) = at.bench.state.results.at("hold")
    assert isinstance(follows, results.LeakVerdict)
    assert follows.within
    assert [e.within for e in at.events("leak test") if isinstance(e, events.LeakJudged)] == [
        False,
        True,
    ]
    read_back = at.say("read back")
    assert "Leak test pass" in read_back
    assert "fail" not in read_back


def test_a_pressure_that_rises_without_heat_is_doubtful(tmp_path: Path) -> None:
    at = hands(tmp_path, LEAK)
    at.say("reading 0.3", "reading 20", "reading 0.33")
    said = at.say("reading 20")
    assert "Leak test doubtful, check gauge and temperature" in said
    assert "gained zero point zero three bar" in said
    (judged,) = at.events("leak test")
    assert isinstance(judged, events.LeakJudged)
    assert not judged.within


# fluids

FLUID = """\
      - id: drain
        say: Drain it.
        readings: [{name: drained, unit: ml}]
        fluid: {name: gear oil, capacity: 1.1 l, of: drained, drains: true}
      - id: fill
        say: Fill it.
        readings: [{name: filled, unit: l}]
        fluid: {name: coolant, capacity: 7.5 l, of: filled}
        mix: {first: antifreeze, second: water, ratio: "1:2", total: 7.5 l}
"""


def test_what_came_out_is_judged_against_what_went_in(tmp_path: Path) -> None:
    at = hands(tmp_path, FLUID)
    said = at.say("reading nine hundred millilitres")
    assert "Gear oil, zero point nine of one point one litres came out" in said
    assert "zero point two litres is missing" in said
    (measured,) = at.events("fluid")
    assert isinstance(measured, events.FluidMeasured)
    assert (measured.missing, measured.within, measured.drained) == (Decimal("0.2"), False, True)


def test_a_mixture_and_its_filling(tmp_path: Path) -> None:
    at = hands(tmp_path, FLUID)
    assert "nothing to mix" in at.say("what mix")
    at.say("reading 1.1 litres", "next step")
    assert at.say("what mix") == (
        "For seven point five litres, antifreeze two point five litres and water five litres."
    )
    assert "seven point five of seven point five litres went in" in at.say("reading 7.5")


# the samples


@pytest.mark.parametrize(
    ("name", "step", "phrase", "expected"),
    [
        ("winch-gearbox", "remove-drum-cover", "what order", "reverse"),
        ("winch-gearbox", "torque-drum-cover", "what setting", "set one two newton metres"),
        ("winch-gearbox", "fit-pinion", "what caution", "Heat the joint"),
        ("pump-rebuild", "fit-impeller", "what setting", "with the adapter"),
        ("pump-rebuild", "fit-shaft", "next bolt", "has to wait for step one"),
        ("cylinder-head", "fill-coolant", "what mix", "three point seven five litres"),
    ],
)
def test_the_samples_answer(
    tmp_path: Path, name: str, step: str, phrase: str, expected: str
) -> None:
    text = reading.find(name).read_text(encoding="utf-8")
    at = Hands(tmp_path / "journal.db", text)
    while at.bench.state.step_id != step:
        at.say("skip step", "not needed")
    while "affirm" in at.say("where are we").lower():
        at.say("affirm")
    assert at.bench.state.step_id == step
    assert expected in at.say(phrase)


def test_which_wrench_tells_its_tolerance_band(tmp_path: Path) -> None:
    # A clicking wrench above 10 N·m is good for 4 % either way (ISO 6789-1, from memory).
    said = hands(tmp_path, COVER).say("which wrench")
    assert said == (
        "Cover bolt, small wrench; set to one two newton metres it gives one one point five "
        "to one two point five newton metres."
    )


def test_a_usual_torque_is_told_as_no_more_than_that_where_none_is_given(tmp_path: Path) -> None:
    loose = """\
      - id: cap
        say: Fit the cap.
        fasteners: [{name: cap bolt, count: 2, thread: M8, grade: "8.8"}]
"""
    said = hands(tmp_path, loose).say("what torque")
    # K d F with K 0.2 and 0.75 of the proof load 21 200 N (ISO 898-1, M8, 8.8): 25.4 N·m.
    assert "Ask for the maker's." in said
    assert said.endswith("cap bolt, M eight, threads dry, two five newton metres.")


def test_how_much_goes_in_to_a_level(tmp_path: Path) -> None:
    fill = """\
      - id: fill
        say: Fill to the middle of the glass.
        readings: [{name: oil filled, unit: l}]
        fluid: {name: oil, capacity: 1.2 l, of: oil filled, level: 0.5}
"""
    at = hands(tmp_path, fill)
    assert at.say("how much") == "Oil, the machine takes zero point six litres."
    assert "zero point six" in at.say("reading 0.6")
    assert isinstance(at.events("fluid")[0], events.FluidMeasured)
    assert at.events("fluid")[0].within  # type: ignore[attr-defined]


SHEET = """\
locker_table:
  name: our own sheet
  source: data sheet of the shop's product
  strengths:
    medium: {handling: 5 min, full: 3 h}
  temperature: {5 °C: 2, 22 °C: 1}
  gap: {0 mm: 1, 0.05 mm: 1, 0.25 mm: 2}
  metal: {steel: 1}
  primer: 0.5
  uses: {pressure test: full}
  release: {medium: Undo it with hand tools.}
"""
JOINT = """\
      - id: joint
        say: Tighten the cap.
        fasteners: [{name: cap bolt, count: 1, thread: M8, grade: "8.8"}]
        tighten: [{fastener: cap bolt, torque: 20 N·m, locker: {strength: medium}}]
      - id: cure
        say: Let it cure.
        wait: {purpose: cure, since: joint, locker: {strength: medium, use: pressure test}}
"""


def test_a_shops_own_data_sheet_takes_the_place_of_the_generic_table(tmp_path: Path) -> None:
    own = HEAD.replace("stages:\n", SHEET + "stages:\n")
    at = Hands(tmp_path / "journal.db", own + JOINT)
    at.say("tightened two zero", "next step")
    assert "two hours and fifty nine minutes" in at.say("when can I test")
    at.stop_and_take_up(hours=1)
    assert "one hour and fifty nine minutes" in at.say("time left")


def test_a_faulty_data_sheet_is_found_when_it_is_read() -> None:
    faulty = SHEET.replace("full: 3 h", "full: 3 bar")
    with pytest.raises(reading.ProcedureError, match="cure time"):
        reading.parse(HEAD.replace("stages:\n", faulty + "stages:\n") + JOINT, "shop.yaml")


def test_clamp_load_and_thread_are_told_on_asking(tmp_path: Path) -> None:
    cover = """\
      - id: cover
        say: Tighten the cover.
        fasteners:
          - {name: cover bolt, count: 6, thread: M8, length: 45 mm, grade: "8.8", grip: 30 mm,
             engaged_in: cast iron}
        tighten: [{fastener: cover bolt, torque: 24 N·m}]
"""
    at = hands(tmp_path, cover)
    # F = T / (K d) = 24 / (0.2 x 0.008) = 15 kN, 71 % of 21 200 N (ISO 898-1, M8, 8.8).
    assert at.say("what clamp load") == (
        "Cover bolt, one five kilonewtons by reckoning, seven one percent of proof load."
    )
    # 1.5 diameters in cast iron: common practice, no source.
    assert at.say("how much thread") == (
        "Cover bolt, one five millimetres of thread goes in, of at least one two millimetres "
        "needed."
    )
    assert "kilogram centimetres" in at.say("what torque in kilogram centimetres")
    assert "ounce inches" in at.say("what torque in ounce inches")
    assert hands(tmp_path, LAST).say("what clamp load").endswith("of a known grade.")
