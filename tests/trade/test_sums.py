"""The command for calculations: the example of each sub-command works, as text and as JSON."""

import argparse
import json
import re
import shlex

import pytest

from assistant.cli import sums
from assistant.errors import AssistantError


def _parser() -> tuple[argparse.ArgumentParser, dict[str, argparse.ArgumentParser]]:
    parser = argparse.ArgumentParser()
    top = parser.add_subparsers()
    sums.add_parser(top)
    action = next(
        action
        for action in top.choices["sum"]._actions
        if isinstance(action, argparse._SubParsersAction)
    )
    return parser, action.choices


NAMES = sorted(_parser()[1])


@pytest.mark.parametrize("name", NAMES)
def test_example_of_the_help_works(name: str, capsys: pytest.CaptureFixture[str]) -> None:
    parser, each = _parser()
    shown = " ".join(each[name].format_help().split())
    example = re.search(r"example: assistant (.*)$", shown)
    assert example
    words = shlex.split(example[1])
    args = parser.parse_args(words)
    assert args.run(args) == 0
    said = capsys.readouterr().out.strip()
    assert said.endswith(".")
    args = parser.parse_args([*words, "--json"])
    assert args.run(args) == 0
    assert json.loads(capsys.readouterr().out)["say"] == said


@pytest.mark.parametrize(
    ("line", "said"),
    [
        ("convert '39 lbf·ft' N·m", "39 lbf·ft is 52.88 N·m."),
        ("adapter '80 N·m' '40 cm' '5 cm'", "Set 71.1 N·m for 80 N·m at the fastener."),
        (
            "adapter '71.1 N·m' '40 cm' '5 cm' --shown",
            "The fastener gets 80 N·m when the wrench shows 71.1 N·m.",
        ),
        (
            "band '40 N·m' --most '100 N·m'",
            "A class II A wrench set to 40 N·m gives 38.4 N·m to 41.6 N·m, 4% either way.",
        ),
        (
            "band '71.1 N·m' --most '100 N·m' --length '40 cm' --adapter '5 cm'",
            "A class II A wrench set to 71.1 N·m gives 76.8 N·m to 83.2 N·m at the fastener",
        ),
        (
            "band '10 N·m' --most '100 N·m'",
            "10 N·m is below what class II A covers, which is 20 N·m to 100 N·m",
        ),
        ("wear '25.02 mm' '25 mm' '24.9 mm'", "0.02 mm better than new: measure again"),
        (
            "leak '2 bar' '1.98 bar' '20 mbar' --resolution '1 mbar'",
            "Too close to call, good to 0.82 mbar",
        ),
        ("leak '2 bar' '1.97 bar' '20 mbar'", "Fail: 30 mbar lost of 20 mbar allowed"),
        (
            "order 4 --torque '20 N·m' --passes 100%",
            "Pass 1, 20 N·m: bolts 1, 3, 2, 4. Pass 2, 20 N·m again, until none turns: bolts 1,",
        ),
        (
            "order 4 --torque '20 N·m' --passes 100% --no-final",
            "Pass 1, 20 N·m: bolts 1, 3, 2, 4.\n",
        ),
        ("drain '0.9 l' '1.1 l'", "0.9 of 1.1 l came out, 0.2 l is missing"),
        ("order --field 2x5 --loosen", "Loosen"),
        ("fill '1.1 l' 50%", "Pour in 0.55 l."),
    ],
)
def test_answers(line: str, said: str, capsys: pytest.CaptureFixture[str]) -> None:
    args = _parser()[0].parse_args(["sum", *shlex.split(line)])
    args.run(args)
    assert capsys.readouterr().out.startswith(said)


@pytest.mark.parametrize(
    "line",
    [
        "convert '14 N·m' mm",
        "convert 14 N·m",
        "clamp '25 N·m' M9 8.8",
        "clamp '-25 N·m' M8 8.8",
        "order",
        "order --field five",
        "order 8 --loosen --torque '5 N·m'",
        "cure medium '22 °C' --table /nowhere",
        "formula 'a+b' a",
        "mix '5 l' 0:1",
        "wrench '50 N·m' --least '20 N·m' --most '100 N·m' --step '1 N·m' --calibrated soon",
        "leak '2 bar' '1 bar' '5 mm'",
        "band '120 N·m' --most '100 N·m'",
        "band '40 N·m' --most '100 N·m' --adapter '5 cm'",
        "wrench '120 N·m' --least '20 N·m' --most '100 N·m' --step '1 N·m'",
    ],
)
def test_errors_are_one_plain_sentence(line: str) -> None:
    args = _parser()[0].parse_args(["sum", *shlex.split(line)])
    with pytest.raises(AssistantError) as caught:
        args.run(args)
    assert "\n" not in str(caught.value)
    assert str(caught.value).endswith((".", "?"))


def test_a_quantity_needs_no_quotes() -> None:
    words = ["sum", "convert", "24.97", "in", "mm", "--json", "8"]
    assert sums.joined(words) == ["sum", "convert", "24.97 in", "mm", "--json", "8"]
