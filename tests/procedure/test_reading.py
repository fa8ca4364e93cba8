"""Faults in procedure files: each one is reported with its line and what was expected."""

import re
from pathlib import Path

import pytest

from assistant import plain_yaml
from assistant.errors import AssistantError
from assistant.procedure import reading
from tests.bench_helpers import SMALL


def line_of(text: str, part: str) -> int:
    return max(n for n, line in enumerate(text.splitlines(), 1) if part in line)


@pytest.mark.parametrize(
    ("right", "wrong", "expected"),
    [
        ("torque: 14 N·m", "torqe: 14 N·m", "did you mean 'torque'"),
        ("torque: 14 N·m", "torque: 14", "a number and a unit"),
        ("torque: 14 N·m", "torque: 14 mm", "expected a torque"),
        ("torque: 14 N·m", "torque: 14 Nmm2x", "Nmm2x"),
        ("torque: 14 N·m", "torque: 0 N·m", "more than 0"),
        ("id: which", "id: open", "called 'open' already"),
        ("go_to: measure", "go_to: mesure", "did you mean 'measure'"),
        ("go_to: measure", "go_to: open", "later step"),
        ("when: {shaft: keyed shaft}", "when: {shift: keyed shaft}", "did you mean 'shaft'"),
        ("when: {shaft: keyed shaft}", "when: {shaft: kyed shaft}", "did you mean 'keyed shaft'"),
        ("formula: bore - shaft", "formula: boar - shaft", "did you mean 'bore'"),
        ("formula: bore - shaft", "formula: bore -", "an example is"),
        ("formula: bore - shaft", "formula: __import__('os')", "__import__"),
        ("least: 24.95 mm", "least: 25.95 mm", "more than the most"),
        ("least: 24.95 mm", "least: 24.95 bar", "expected a value in mm"),
        ("part: end plate}]", "part: end plat}]", "did you mean 'end plate'"),
        ("from_bag: 1", "from_bag: 3", "no earlier step puts anything into bag 3"),
        ("signal: warning", "signal: beware", "warning"),
        ("fastener: long bolt", "fastener: lang bolt", "did you mean 'long bolt'"),
        ("name: circlip", "name: circlip n.2", "words to be said aloud"),
        ("of: clearance", "of: clearence", "did you mean 'clearance'"),
        ("purpose: cure, time: 10 min", "purpose: cure, time: 10 mm", "expected a time"),
        ("strength: medium", "strength: mighty", "'medium'"),
        ("count: 4", "count: four", "integer"),
    ],
)
def test_a_fault_is_named_with_its_line(right: str, wrong: str, expected: str) -> None:
    assert right in SMALL
    text = SMALL.replace(right, wrong, 1)
    with pytest.raises(reading.ProcedureError) as caught:
        reading.parse(text, "shop.yaml")
    line = line_of(text, wrong)
    matching = [m for m in str(caught.value).splitlines() if m.startswith(f"shop.yaml:{line}:")]
    assert any(expected in message for message in matching), str(caught.value)


def test_every_fault_is_told_at_once() -> None:
    text = SMALL.replace("torque: 14 N·m", "torque: 14").replace("count: 4", "count: none")
    with pytest.raises(reading.ProcedureError) as caught:
        reading.parse(text, "shop.yaml")
    assert len(str(caught.value).splitlines()) == 2


def test_a_list_that_is_too_short_is_told_of_beside_a_fault_elsewhere() -> None:
    text = SMALL.replace("count: 4", "count: none") + "  - {name: Empty, steps: []}\n"
    with pytest.raises(reading.ProcedureError) as caught:
        reading.parse(text, "shop.yaml")
    said = str(caught.value).splitlines()
    assert len(said) == 2
    assert any("steps" in line and "at least 1" in line for line in said), said
    # A list whose only entry is bad is reported once, for what is bad in the entry.
    text = SMALL + "  - name: Short\n    steps:\n      - {id: last}\n"
    with pytest.raises(reading.ProcedureError) as caught:
        reading.parse(text, "shop.yaml")
    assert len(str(caught.value).splitlines()) == 1


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("", "expected a procedure"),
        ("- a\n- b\n", "expected a procedure"),
        ("a: [1,\nb: 2", ":2:"),
        ("a: 1\na: 2", 'duplicate key "a"'),
        ("title: x", "'procedure' is missing"),
        ("a: !!python/object/apply:os.system [ls]", "are not allowed"),
        ("a: " + "[" * 500 + "]" * 500, "nested"),
        ("a: " + "[" * 60 + "]" * 60, "nested"),
    ],
)
def test_what_is_no_procedure(text: str, expected: str) -> None:
    with pytest.raises(reading.ProcedureError, match=r"shop\.yaml:\d+:") as caught:
        reading.parse(text, "shop.yaml")
    assert expected in str(caught.value)


def test_files_that_cannot_be_read(tmp_path: Path) -> None:
    with pytest.raises(AssistantError, match="winch-gearbox"):
        reading.find("no-such-thing")
    with pytest.raises(AssistantError, match=r"no procedure file \./x\.yaml"):
        reading.find("./x.yaml")
    (tmp_path / "latin.yaml").write_bytes(b"title: caf\xe9")
    with pytest.raises(reading.ProcedureError, match="not UTF-8"):
        reading.read(tmp_path / "latin.yaml")
    (tmp_path / "long.yaml").write_text("x" * (plain_yaml.MOST_BYTES + 1))
    with pytest.raises(reading.ProcedureError, match="larger"):
        reading.read(tmp_path / "long.yaml")
    full = SMALL + "#" * (plain_yaml.MOST_BYTES - len(SMALL.encode()) - 1) + "\n"
    (tmp_path / "full.yaml").write_text(full, encoding="utf-8")
    assert (tmp_path / "full.yaml").stat().st_size == plain_yaml.MOST_BYTES
    assert reading.read(tmp_path / "full.yaml") == reading.parse(SMALL, "shop.yaml")


COVER = """\
procedure: cover-box
title: Cover box
revision: A
equipment: {kind: test box}
wrenches:
  - {name: small wrench, least: 5 N·m, most: 25 N·m, graduation: 0.5 N·m}
  - {name: large wrench, least: 40 N·m, most: 200 N·m, graduation: 1 N·m}
stages:
  - name: Build-up
    steps:
      - id: cover
        say: Fit the cover.
        fasteners:
          - {name: cover bolt, count: 4, thread: M8, length: 30 mm, grade: "8.8", grip: 12 mm,
             washer: 1.6 mm, hole_depth: 20 mm, engaged_in: cast iron}
        tighten:
          - {fastener: cover bolt, torque: 24 N·m, order: star, wrench: small wrench}
        readings:
          - {name: start pressure, unit: bar}
          - {name: final pressure, unit: bar}
          - {name: drained, unit: l}
        leak: {start: start pressure, final: final pressure, allowed: 15 mbar}
        fluid: {name: oil, capacity: 1.1 l, of: drained}
        mix: {first: antifreeze, second: water, ratio: "1:1", total: 5 l}
      - id: cure
        say: Let it cure.
        wait: {purpose: cure, locker: {strength: high}, since: cover}
"""


def warnings_of(folder: Path, text: str) -> list[str]:
    path = folder / "shop.yaml"
    path.write_text(text, encoding="utf-8")
    return [line.removeprefix(str(path)) for line in reading.load(path).warnings]


@pytest.mark.parametrize(
    ("right", "wrong", "expected"),
    [
        ("", "", None),
        # A third of 0.75 of proof is 5.3 kN, which takes 8.5 N·m.
        ("torque: 24 N·m, order", "torque: 8 N·m, order", "too low for M8 8.8"),
        # 30 - 12 - 1.6 = 16.4 mm goes in.
        ("length: 30 mm", "length: 34 mm", "bottoms before it clamps"),
        ("length: 30 mm", "length: 20 mm", "too short"),
        ("wrench: small wrench}", "wrench: large wrench}", "small wrench suits"),
    ],
)
def test_sums_that_come_out_badly_are_warnings(
    tmp_path: Path, right: str, wrong: str, expected: str | None
) -> None:
    text = COVER.replace(right, wrong, 1) if right else COVER
    found = warnings_of(tmp_path, text)
    if expected is None:
        assert found == []
        return
    line = line_of(text, wrong)
    assert any(one.startswith(f":{line}: warning: ") and expected in one for one in found), found


def refused(folder: Path, text: str) -> str:
    with pytest.raises(reading.ProcedureError) as caught:
        warnings_of(folder, text)
    return str(caught.value)


def test_a_torque_past_proof_load_is_refused(tmp_path: Path) -> None:
    # 44 N·m on a dry M8 8.8 is 27.5 kN; proof is 21.2 kN (ISO 898-1: 36.6 mm² by 580 MPa).
    text = COVER.replace("24 N·m", "44 N·m").replace(", wrench: small wrench", "")
    assert "shop.yaml:17: torque: cover bolt: " in refused(tmp_path, text)
    assert "pass the proof load of M8 8.8" in refused(tmp_path, text)
    # Without a class, the strongest usual one is the measure: 970 MPa by 36.6 mm² takes 56.8 N·m.
    unstated = text.replace('grade: "8.8", ', "")
    assert warnings_of(tmp_path, unstated) == []
    assert "56.8 N·m is the most" in refused(tmp_path, unstated.replace("44 N·m", "58 N·m"))


def test_thread_locker_and_angle_change_what_a_torque_gives(tmp_path: Path) -> None:
    # 30 N·m is 0.88 of proof dry, and 1.18 with the thread-locker wet.
    text = COVER.replace("24 N·m", "30 N·m").replace(", wrench: small wrench", "")
    text = text.replace("least: 40", "least: 20").replace("most: 200", "most: 100")
    assert warnings_of(tmp_path, text) == []
    locked = text.replace("order: star", "locker: {strength: low}")
    assert "proof load" in refused(tmp_path, locked)
    # A torque before an angle is low on purpose.
    angled = COVER.replace("24 N·m", "8 N·m").replace("order: star", "angle: 90 deg")
    assert warnings_of(tmp_path, angled) == []


def test_a_last_pass_is_offered_for_the_bolts_of_a_gasket(tmp_path: Path) -> None:
    text = COVER.replace("        fasteners:", "        fit: [{part: gasket}]\n        fasteners:")
    text = text.replace("equipment:", "parts: [{name: gasket}]\nequipment:")
    (told,) = warnings_of(tmp_path, text)
    assert "4 bolts on a gasket slacken each other" in told
    for right, wrong in (
        ("order: star", "order: star, circular_pass: true"),
        ("order: star", "order: star, angle: 30 deg"),
        ("count: 4", "count: 3"),
        ("part: gasket", "part: plate"),
    ):
        text_now = text.replace(right, wrong, 1).replace(
            "name: gasket", "name: gasket}, {name: plate"
        )
        assert warnings_of(tmp_path, text_now) == [], wrong


def test_threads_without_a_grade_may_be_in_no_table(tmp_path: Path) -> None:
    text = COVER.replace('grade: "8.8", ', "")
    assert warnings_of(tmp_path, text.replace("thread: M8", "thread: G1/4")) == []
    assert "M8x7 is not in the tables" in warnings_of(tmp_path, text.replace("M8,", "M8x7,"))[0]


def test_a_thread_may_be_left_out_where_nothing_is_worked_out_from_it(tmp_path: Path) -> None:
    text = COVER.replace("thread: M8, ", "")
    assert warnings_of(tmp_path, text.replace('grade: "8.8", ', "")) == []
    with pytest.raises(reading.ProcedureError, match="give the 'thread' too"):
        reading.parse(text, "shop.yaml")


def test_a_torque_on_threads_of_which_nothing_is_stated_is_not_checked(tmp_path: Path) -> None:
    strained = COVER.replace("torque: 24 N·m", "torque: 24.5 N·m").replace("M8", "M6")
    assert "proof" in refused(tmp_path, strained)
    unknown = strained.replace("order: star", "order: star, lubricated: not stated")
    assert "proof" not in " ".join(warnings_of(tmp_path, unknown))


def test_every_count_and_every_variant_is_checked() -> None:
    text = COVER.replace("order: star", "order: [1, 3, 2, 4]")
    more = "          - {name: cover bolt, count: 6, thread: M8}\n        tighten:\n"
    with pytest.raises(reading.ProcedureError, match="missing: 5, 6, 7, 8, 9, 10"):
        reading.parse(text.replace("        tighten:\n", more), "shop.yaml")
    # Some new and some old are one ring of bolts; what goes in after another answer is not.
    some_new = more.replace("count: 6", "count: 2, new: true")
    ring = text.replace("[1, 3, 2, 4]", "[1, 3, 2, 4, 6, 5]")
    reading.parse(ring.replace("        tighten:\n", some_new), "shop.yaml")


def test_loosening_is_checked() -> None:
    for wrong, expected in (
        ("{fastener: cower bolt}", "no fastener 'cower bolt'"),
        ("{fastener: cover bolt, order: stair}", "write star"),
    ):
        text = COVER.replace("        tighten:", f"        loosen: [{wrong}]\n        tighten:")
        with pytest.raises(reading.ProcedureError, match=expected):
            reading.parse(text, "shop.yaml")


def test_a_swapped_pair_of_lengths_is_caught(tmp_path: Path) -> None:
    winch = reading.find("winch-gearbox").read_text(encoding="utf-8")
    swapped = re.sub(r"length: (55|30) mm\n", lambda m: f"length: {85 - int(m[1])} mm\n", winch)
    assert "M8 55 mm goes into bag 5, and M8 30 mm comes out" in refused(tmp_path, swapped)
    # Where they were swapped at strip-down as well, their lengths in the holes still tell.
    swapped = re.sub(r"length: (55|30) mm", lambda m: f"length: {85 - int(m[1])} mm", winch)
    found = " ".join(warnings_of(tmp_path, swapped))
    assert "long bolt: The bolt is too short" in found
    assert "short bolt: The bolt bottoms before it clamps" in found


@pytest.mark.parametrize("name", ["winch-gearbox", "pump-rebuild", "cylinder-head"])
def test_the_samples_give_no_warning(name: str) -> None:
    assert reading.load(reading.find(name)).warnings == ()


@pytest.mark.parametrize(
    ("right", "wrong", "expected"),
    [
        ("thread: M8", "thread: M8x1.2", "M8 is there"),
        ('grade: "8.8"', 'grade: "8.9"', "there is no grade '8.9'"),
        ("order: star", "order: spiral", "rows"),
        ("order: star", "order: spiral, rows: 3", "rows"),
        ("order: star", "order: stair", "write star"),
        ("order: star", "order: [1, 3, 2]", "missing: 4"),
        ("order: star", "passes: [30 N·m]", "have to rise"),
        ("order: star", "angle: 90 deg, circular_pass: true", "no angle after"),
        (", wrench: small wrench", ", wrench: smal wrench", "no wrench is called"),
        (", wrench: small wrench", ", wrench: small wrench, adapter: 50 mm", "length of small"),
        ("least: 5 N·m", "least: 50 N·m", "scale of the wrench small wrench makes no sense"),
        ("start: start pressure", "start: drained", "is not a pressure"),
        ("final: final pressure", "final: last pressure", "no reading so far"),
        ("allowed: 15 mbar", "allowed: 15 mm", "expected a pressure"),
        ("of: drained", "of: final pressure", "is not a volume"),
        ("capacity: 1.1 l", "capacity: 1.1 bar", "expected a volume"),
        ("unit: l}", "unit: l, new: 1 l}", "both 'new' and 'service_limit'"),
        ("unit: l}", "unit: l, new: 1 l, service_limit: 1 l}", "the same"),
        ("unit: l}", "unit: l, new: 1 l, service_limit: 1 mm}", "expected a value in l"),
        ('ratio: "1:1"', 'ratio: "half"', "50:1"),
        ("since: cover", "since: cove", "no earlier step"),
        ("locker: {strength: high}", "locker: {strength: high}, time: 1 h", "either 'time'"),
        ("strength: high}", "strength: high, temperature: -20 °C}", "from 5 to 40"),
        ("strength: high}", "strength: high, metal: cheese}", "cheese"),
    ],
)
def test_fields_that_cannot_be_calculated_with(right: str, wrong: str, expected: str) -> None:
    assert right in COVER
    text = COVER.replace(right, wrong, 1)
    with pytest.raises(reading.ProcedureError) as caught:
        reading.parse(text, "shop.yaml")
    line = line_of(text, wrong)
    matching = [m for m in str(caught.value).splitlines() if m.startswith(f"shop.yaml:{line}:")]
    assert any(expected in message for message in matching), str(caught.value)


def test_a_stored_text_is_read_with_keys_that_are_no_longer_known() -> None:
    older = SMALL.replace("purpose: cure,", "purpose: cure, starts: on entering,")
    with pytest.raises(reading.ProcedureError, match="starts"):
        reading.parse(older, "shop.yaml")
    assert reading.parse(older, "job 1", stored=True) == reading.parse(SMALL, "shop.yaml")
