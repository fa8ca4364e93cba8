"""Numbered steps as pasted from a page of a manual."""

from __future__ import annotations

from pathlib import Path

import pytest

from assistant import plain_yaml
from assistant.authoring import importing
from assistant.errors import AssistantError
from assistant.procedure import reading
from tests.authoring.test_shop_sheet import Made
from tests.safety.hammering import hammer, in_time, mangled, sizes

PAGE = """\
REPLACING THE WATER PUMP

Removal
1. Drain the coolant.
WARNING: Hot coolant scalds. Let the
engine cool first.
2. Remove the four pump bolts (M8) and take the
   pump off.

Installation
1. Fit a new gasket and the pump. Tighten the four M8x30 pump bolts to 22 Nm (16 ft-lb).
2) Fit the pulley and torque the pulley nut to 8-10 Nm.
Step 3: Tighten the ten head bolts: 20 Nm, 40 Nm, 60 Nm, then 90°.
4. Fit the drain plug, then tighten the two vent screws to 5 N·m.
"""


def pasted(folder: Path, text: str) -> Made:
    path = folder / "page.txt"
    path.write_text(text, encoding="utf-8")
    return Made(path)


def test_numbered_lines_are_steps(tmp_path: Path) -> None:
    found = pasted(tmp_path, PAGE)
    procedure = found.procedure
    assert procedure.title == "Replacing the water pump" and procedure.draft
    assert [(stage.name, [step.say for step in stage.steps]) for stage in procedure.stages] == [
        ("Removal", [
            "Drain the coolant.",
            "Remove the four pump bolts (M8) and take the pump off.",
        ]),
        ("Installation", [
            "Fit a new gasket and the pump. Tighten the four M8x30 pump bolts to 22 Nm (16 ft-lb).",
            "Fit the pulley and torque the pulley nut to 8-10 Nm.",
            "Tighten the ten head bolts: 20 Nm, 40 Nm, 60 Nm, then 90°.",
            "Fit the drain plug, then tighten the two vent screws to 5 N·m.",
        ]),
    ]  # fmt: skip


def test_a_warning_belongs_to_the_step_that_follows(tmp_path: Path) -> None:
    first, second, *_ = pasted(tmp_path, PAGE).procedure.steps
    assert not first.hazards
    assert [(h.signal.value, h.say) for h in second.hazards] == [
        ("warning", "Hot coolant scalds. Let the engine cool first.")
    ]


def test_torques_in_the_text_are_proposed_and_marked(tmp_path: Path) -> None:
    found = pasted(tmp_path, PAGE)
    steps = found.procedure.steps
    assert [
        (t.fastener, [str(p) for p in t.passes], str(t.torque), str(t.angle), t.lubricated)
        for step in steps
        for t in step.tighten
    ] == [
        ("pump bolt", [], "22 N·m", "None", "not stated"),
        ("head bolt", ["20 N·m", "40 N·m"], "60 N·m", "90 °", "not stated"),
        ("vent screw", [], "5 N·m", "None", "not stated"),  # not the plug, which is named first
    ]
    assert [(f.name, f.count, f.thread) for f in steps[2].fasteners] == [("pump bolt", 4, "M8")]
    assert found.told == [
        "line 11: confirm: pump bolt, '22 Nm (16 ft-lb)', found in the text; 22 N·m is taken, "
        "not 16 lbf·ft.",
        "line 12: torque '8-10 Nm.' is a range; give one value, and how far it may be off as a "
        "tolerance.",
        "line 13: confirm: head bolt, '20 Nm, 40 Nm, 60 Nm, then 90°', found in the text; 20 N·m, "
        "40 N·m: taken as passes before 60 N·m.",
        "line 14: confirm: vent screw, '5 N·m', found in the text.",
    ]
    assert found.left_to_do == 4 and found.text.count("# TO DO: line") == 4


def test_of_two_torques_for_one_fastener_none_is_proposed(tmp_path: Path) -> None:
    text = (
        "1. Tighten the six cover bolts to 10 Nm. Turn the shaft. Tighten the cover bolts to 25 Nm."
    )
    found = pasted(tmp_path, text)
    assert not found.procedure.steps[0].tighten
    assert "cover bolt has more than one torque in this step ('25 Nm')" in found.told[1]


def test_a_text_too_long_to_be_spoken_goes_on_in_detail(tmp_path: Path) -> None:
    found = pasted(tmp_path, "1. " + "Turn it a little further. " * 20)
    (step,) = found.procedure.steps
    assert len(step.say) <= 400 and step.say.endswith("further.")
    assert step.detail is not None and f"{step.say} {step.detail}".count("Turn it") == 20


def test_what_comes_after_the_last_step_and_before_the_first_is_told(tmp_path: Path) -> None:
    text = "Pump\nSee page four.\n1. Take off the cover.\nNOTE: Keep the shims."
    found = pasted(tmp_path, text)
    assert found.told == [
        "line 2: belongs to no step: 'See page four.'.",
        "line 4: comes after the last step, so it is put to that one.",
    ]
    assert found.procedure.steps[0].hazards[0].say == "Keep the shims."


def test_a_text_without_numbers_is_no_procedure(tmp_path: Path) -> None:
    with pytest.raises(AssistantError, match="there are no numbered steps in this text"):
        pasted(tmp_path, "Take off the cover.\nFit the cover.\n")
    with pytest.raises(AssistantError, match=r"no\.txt: cannot read this text: No such file"):
        importing.procedure_from(tmp_path / "no.txt")


@sizes(60, 200)
def test_any_text_makes_a_file_that_can_be_read_or_says_why_not(
    examples: int, tmp_path: Path
) -> None:
    path = tmp_path / "page.txt"

    def make(text: str) -> None:
        path.write_bytes(text.encode("utf-8", "surrogatepass"))
        with in_time():
            written = importing.procedure_from(path)
        plain_yaml.load(written.contents.decode())

    tokens = ["\n", "1. ", "a) ", "Step 2 ", "WARNING: ", "25 Nm", " to ", "8-10", "°", "bolts"]
    hammer(make, mangled([PAGE], tokens), examples)


def test_the_sample_page_passes_check_once_it_is_settled(tmp_path: Path) -> None:
    found = pasted(tmp_path, PAGE)
    assert reading.load(found.path).procedure.steps


@pytest.mark.parametrize(
    "text",
    [
        "Tighten the drain plug; do not exceed 30 Nm.",
        "Tighten the drain plug (max. 30 Nm).",
        "Turn the shaft nut by hand; if it takes more than 30 Nm, stop.",
        "Tighten the drain plug to 30 Nm maximum.",
    ],
)
def test_a_limit_is_no_torque_to_tighten_to(text: str, tmp_path: Path) -> None:
    found = pasted(tmp_path, f"1. {text}\n2. Wipe it.")
    assert not found.procedure.steps[0].tighten
    assert found.told == [
        "line 1: '30 Nm' may be a limit and no torque to tighten to; it is in no key."
    ]
