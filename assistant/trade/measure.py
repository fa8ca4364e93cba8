"""Readings: their limits, the wear they show, values calculated from them, parts chosen by them.

The readings of one calculation may be in different units; the result carries its own. A reading is
judged by the decision rule of ISO 14253-1: within or outside its limits only if the uncertainty of
the reading leaves no doubt, and otherwise too close to call.

A formula comes from a text file, so it must never run anything but arithmetic: `_tree` refuses all
else before a formula is evaluated.
"""

from __future__ import annotations

import ast
import math
import operator
import warnings
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum
from typing import TYPE_CHECKING, Any

from assistant.errors import AssistantError
from assistant.trade import units

if TYPE_CHECKING:
    from assistant.trade.units import Quantity

LONGEST_FORMULA = 200
"""Most characters in a formula."""
LARGEST_POWER = 4
"""Largest exponent in a formula, either sign."""

# --- formulas ---------------------------------------------------------------------------------


def key(name: str) -> str:
    """Return a reading's name as a formula writes it: "shaft end float" is shaft_end_float."""
    return "_".join(name.replace("-", " ").replace("'", "").split()).lower()


def _power(base: Any, exponent: Any) -> Any:
    if isinstance(exponent, bool) or not isinstance(exponent, int | float):
        raise AssistantError("A power in a formula has to be a plain number.")
    if abs(exponent) > LARGEST_POWER:
        raise AssistantError(f"A power in a formula may be {LARGEST_POWER} at most.")
    # Powers of powers of integers grow without limit; a float overflows and is refused.
    return (float(base) if isinstance(base, int) else base) ** exponent


def _mean(*values: Any) -> Any:
    if not values:
        raise AssistantError("A mean needs at least one value.")
    # The sum of differences from the first value, because temperatures in °C cannot be added.
    first = values[0]
    return first + sum((value - first for value in values[1:]), first - first) / len(values)


def _some(function: Any) -> Any:
    def apply(*values: Any) -> Any:
        if not values:
            raise AssistantError("min and max need at least one value.")
        return function(values)

    return apply


_FUNCTIONS = {
    "min": _some(min),
    "max": _some(max),
    "abs": abs,
    "mean": _mean,
    "sqrt": lambda value: value**0.5,
}
# The library's own operators guard against long strings and lists, and mistake a quantity for one.
# Neither can get here, and `_tree`, `_power` and the check of the result bound the sizes.
_OPERATORS: dict[type[ast.AST], Callable[..., Any]] = {
    ast.Add: operator.add,
    ast.Sub: operator.sub,
    ast.Mult: operator.mul,
    ast.Div: operator.truediv,
    ast.USub: operator.neg,
    ast.UAdd: operator.pos,
    ast.Pow: _power,
}
_NODES = (ast.Expr, ast.Expression, ast.Constant, ast.Name, ast.BinOp, ast.UnaryOp, ast.Call)


def _is_small_number(value: object) -> bool:
    return (
        isinstance(value, int | float)
        and not isinstance(value, bool)
        and abs(value) <= units.LARGEST
    )


def _tree(formula: str) -> ast.Expression:
    """Parse a formula. Refuses whatever is not arithmetic, before anything is evaluated."""
    text = formula.strip().replace("^", "**").replace("×", "*").replace("÷", "/")
    if not text or len(text) > LONGEST_FORMULA:
        raise AssistantError(f"A formula has 1 to {LONGEST_FORMULA} characters.")
    try:
        with warnings.catch_warnings():
            # Python warns about "2mm" and the like, which are refused below.
            warnings.simplefilter("ignore", SyntaxWarning)
            tree = ast.parse(text.replace("−", "-"), mode="eval")
    except (SyntaxError, ValueError, MemoryError, RecursionError):
        raise AssistantError(
            f"The formula {formula!r} cannot be read: check its brackets and signs."
        ) from None
    allowed = (*_NODES, *_OPERATORS, ast.Load)
    for node in ast.walk(tree):
        plain_call = not isinstance(node, ast.Call) or (
            isinstance(node.func, ast.Name) and not node.keywords
        )
        number = not isinstance(node, ast.Constant) or _is_small_number(node.value)
        if not (isinstance(node, allowed) and plain_call and number):
            raise AssistantError(
                f"The formula {formula!r} may hold only numbers, names, + - * / ** ( ) and "
                f"{', '.join(_FUNCTIONS)}."
            )
    return tree


def names_in(formula: str) -> tuple[str, ...]:
    """Return the names in a formula, each once: readings and units such as `mm`, not functions.

    They are in the order of the formula, because a record keeps what went into a value.

    Raises:
        AssistantError: the formula is not plain arithmetic.
    """
    tree = _tree(formula)
    called = {id(node.func) for node in ast.walk(tree) if isinstance(node, ast.Call)}
    names = [node for node in ast.walk(tree) if isinstance(node, ast.Name)]
    names.sort(key=lambda node: (node.lineno, node.col_offset))
    return tuple(dict.fromkeys(node.id for node in names if id(node) not in called))


def evaluate(formula: str, values: Mapping[str, Quantity]) -> Quantity:
    """Evaluate a formula over readings, with their units.

    Args:
        formula: + - * / ** ( ), min, max, abs, mean and sqrt over names and numbers. A name is a
            reading's, with underscores for spaces, or a unit ("bore - piston - 0.05*mm").
        values: readings by name, with spaces or underscores.

    Returns:
        The result, in the unit that the arithmetic gives. `units.express` converts it.

    Raises:
        AssistantError: the formula is not plain arithmetic, has an unknown name, mixes units,
            divides by zero, or gives a result that is not finite or above 1e15.
    """
    import pint
    import simpleeval

    tree = _tree(formula)
    known = {key(name): value for name, value in values.items()}

    def look_up(node: ast.Name) -> Any:
        if node.id in known:
            return known[node.id]
        if node.id.lower() in known:
            return known[node.id.lower()]
        try:
            return units.quantity(1, node.id)
        except AssistantError:
            have = ", ".join(sorted(known)) or "none"
            raise AssistantError(
                f"The formula uses {node.id!r}, but there is no such reading. The readings are: "
                f"{have}."
            ) from None

    evaluator = simpleeval.SimpleEval(
        operators=_OPERATORS,
        functions=_FUNCTIONS,
        names=look_up,
    )
    evaluator.nodes = {node: evaluator.nodes[node] for node in _NODES if node in evaluator.nodes}
    try:
        result = evaluator.eval(formula, previously_parsed=tree.body)
        quantity: Quantity = (
            result if isinstance(result, pint.Quantity) else units.quantity(float(result), "")
        )
        number = float(quantity.magnitude)
    except AssistantError:
        raise
    except pint.DimensionalityError as error:
        raise AssistantError(
            f"The formula {formula!r} mixes units that do not go together "
            f"({error.units1} and {error.units2})."
        ) from None
    except pint.OffsetUnitCalculusError:
        raise AssistantError(
            f"The formula {formula!r} adds or multiplies temperatures, which has no meaning; "
            "subtract them or take their mean."
        ) from None
    except ZeroDivisionError:
        raise AssistantError(f"The formula {formula!r} divides by zero.") from None
    except simpleeval.FunctionNotDefined as error:
        raise AssistantError(
            f"The formula uses {error.func_name!r}; the functions are {', '.join(_FUNCTIONS)}."
        ) from None
    except (simpleeval.InvalidExpression, ArithmeticError, TypeError, ValueError):
        raise AssistantError(
            f"The formula {formula!r} cannot be worked out: check its units and its roots."
        ) from None
    if not math.isfinite(number) or abs(number) > 1e15:
        raise AssistantError(
            f"The formula {formula!r} gives a number that is too large to be right: check it."
        )
    return quantity


def check_formula(formula: str, reading_units: Mapping[str, str], result_unit: str) -> None:
    """Check a formula when a procedure is read, with trial values in the units of its readings.

    Args:
        formula: as for `evaluate`.
        reading_units: the unit of each reading, by the reading's name.
        result_unit: the unit that the result is wanted in.

    Raises:
        AssistantError: as `evaluate`, or the result cannot be given in `result_unit`.
    """
    trials = [
        {
            name: units.quantity(20 + 7.3 * place, unit)
            for place, (name, unit) in zip(order, reading_units.items(), strict=True)
        }
        for order in (range(len(reading_units)), range(len(reading_units), 0, -1))
    ]
    try:
        result = evaluate(formula, trials[0])
    except AssistantError:
        # The root of a difference exists only if the larger reading comes first.
        result = evaluate(formula, trials[1])
    try:
        units.express(result, result_unit)
    except AssistantError as error:
        raise AssistantError(
            f"The formula {formula!r} does not give a result in {result_unit}: {error}"
        ) from None


# --- uncertainty ------------------------------------------------------------------------------


def expanded_uncertainty(resolution: Quantity) -> Quantity:
    """Return the expanded uncertainty (k = 2) that follows from an instrument's resolution alone.

    The true value may lie anywhere within half a graduation either side of the reading, so the
    standard uncertainty is resolution / √12 (GUM, JCGM 100:2008, F.2.2.1: 0.29 δx). Twice that
    covers about 95 %. Errors of the instrument and of the operator are unknown here and come on
    top.

    Raises:
        AssistantError: the resolution is negative.
    """
    if resolution.magnitude < 0:
        raise AssistantError("An instrument's resolution cannot be negative.")
    result: Quantity = units.as_difference(resolution) * (2 / math.sqrt(12))
    return result


def uncertainty_of(
    formula: str, values: Mapping[str, Quantity], resolutions: Mapping[str, Quantity]
) -> Quantity | None:
    """Return the expanded uncertainty (k = 2) of a calculated value; None if it is unknown.

    It is the root of the sum of the squares of what each reading's own uncertainty changes, to
    first order and for independent readings (GUM, JCGM 100:2008, 5.1.2, with finite differences
    instead of derivatives).

    Args:
        formula: as for `evaluate`.
        values: readings by name.
        resolutions: resolutions of the instruments by the same names. A reading without one counts
            as exact.

    Raises:
        AssistantError: as `evaluate`, or a resolution is negative.
    """
    used = {name.lower() for name in names_in(formula)}
    squares: Any = None
    for name, resolution in resolutions.items():
        if name not in values or key(name) not in used:
            continue
        swing = expanded_uncertainty(resolution)
        high = evaluate(formula, {**values, name: values[name] + swing})
        low = evaluate(formula, {**values, name: values[name] - swing})
        part = ((high - low) / 2) ** 2
        squares = part if squares is None else squares + part
    if squares is None:
        return None
    result: Quantity = squares**0.5
    return result


# --- limits -----------------------------------------------------------------------------------


class Verdict(StrEnum):
    """Whether a reading is within its limits."""

    WITHIN = "within limits"
    BELOW = "below the limit"
    ABOVE = "above the limit"
    UNSURE = "too close to call"


@dataclass(frozen=True)
class Judgement:
    """A reading judged by its limits."""

    verdict: Verdict
    value: Quantity
    limit: Quantity | None
    """The limit that the value passes or is closest to; None if there is no limit."""
    margin: Quantity | None
    """Distance of the value from that limit, in the value's unit; negative outside."""
    uncertainty: Quantity | None
    """Expanded uncertainty of the value; None if unknown."""

    @property
    def ok(self) -> bool:
        """Whether the reading is surely within its limits."""
        return self.verdict is Verdict.WITHIN

    def sentence(self) -> str:
        """Return a sentence to speak: "0.06 mm is above the limit of 0.05 mm, by 0.01 mm."."""
        value = units.show(self.value, digits=5)
        if self.limit is None or self.margin is None:
            return f"{value}, no limit given."
        limit, margin = (
            units.show(self.limit, digits=5),
            units.show(self.margin, digits=3).lstrip("-"),
        )
        if self.verdict is Verdict.UNSURE:
            doubt = "" if self.uncertainty is None else units.show(self.uncertainty, digits=2)
            return f"{value} is too close to the limit of {limit} to call: it is good to {doubt}."
        if self.verdict is Verdict.WITHIN:
            return f"{value} is within limits, {margin} inside {limit}."
        return f"{value} is {self.verdict} of {limit}, by {margin}."


def judge(
    value: Quantity,
    least: Quantity | None = None,
    most: Quantity | None = None,
    uncertainty: Quantity | None = None,
) -> Judgement:
    """Judge a value by its limits. A value equal to a limit is within it.

    Args:
        value: the reading.
        least: lower limit, in any unit of the same dimension; None for no limit.
        most: upper limit, likewise.
        uncertainty: expanded uncertainty (`expanded_uncertainty`). A value this close to a limit
            is too close to call (ISO 14253-1). None: the value is taken as exact.

    Raises:
        AssistantError: the units differ in kind, or `least` is above `most`.
    """
    at = float(value.magnitude)
    low = None if least is None else units.number_like(least, value)
    high = None if most is None else units.number_like(most, value)
    if low is not None and high is not None and low > high:
        raise AssistantError("The least that a reading may be is more than the most it may be.")
    step = units.as_difference(value)
    doubt = None if uncertainty is None else abs(units.number_like(uncertainty, step))
    slack = 1e-9 * max(1e-3, abs(at))
    # (margin inside the limit, the limit, the verdict outside it); the smallest margin decides.
    sides: list[tuple[float, Quantity, Verdict]] = []
    if least is not None and low is not None:
        sides.append((at - low, least, Verdict.BELOW))
    if most is not None and high is not None:
        sides.append((high - at, most, Verdict.ABOVE))
    if not sides:
        return Judgement(Verdict.WITHIN, value, None, None, uncertainty)
    margin, limit, outside = min(sides, key=lambda side: side[0])
    if doubt is not None and abs(margin) <= doubt + slack:
        verdict = Verdict.UNSURE
    else:
        verdict = Verdict.WITHIN if margin >= -slack else outside
    inside: Quantity = units.registry().Quantity(margin, step.units)
    return Judgement(verdict, value, limit, inside, uncertainty)


class Condition(StrEnum):
    """Whether a worn part is within its service limit."""

    SERVICEABLE = "serviceable"
    WORN_OUT = "past its service limit"
    UNSURE = "too close to call"
    """The reading is closer to the service limit than its uncertainty."""
    BETTER_THAN_NEW = "better than new"
    """No part wears in that direction: the reading is wrong, or this is another part. Ask."""


@dataclass(frozen=True)
class Wear:
    """How much of the allowed wear is used up."""

    condition: Condition
    worn: Quantity
    """Change from new in the direction of wear; negative if the reading is better than new."""
    allowed: Quantity
    """Change from new to the service limit, 0 or more."""
    share: float
    """`worn` as a share of `allowed`: 0 as new, 1 at the service limit, more past it."""
    uncertainty: Quantity | None
    """Expanded uncertainty of the reading; None if unknown."""

    @property
    def serviceable(self) -> bool:
        """Whether the reading is surely between new and the service limit, both included."""
        return self.condition is Condition.SERVICEABLE

    def sentence(self) -> str:
        """Return the judgement as a sentence to speak."""
        if self.condition is Condition.BETTER_THAN_NEW:
            better = units.show(self.worn).lstrip("-")
            return f"{better} better than new: measure again, and check that it is the right part."
        state = str(self.condition)
        if self.condition is Condition.UNSURE and self.uncertainty is not None:
            state += f", it is good to {units.show(self.uncertainty, digits=2)}"
        return (
            f"Worn {units.show(self.worn)} of {units.show(self.allowed)} allowed, "
            f"{self.share * 100:.0f}%: {state}."
        )


def wear(
    reading: Quantity,
    new: Quantity,
    service_limit: Quantity,
    uncertainty: Quantity | None = None,
) -> Wear:
    """Judge wear by the size measured, the size when new and the service limit.

    A bore wears larger and a shaft smaller. The two sizes tell which one this is.

    Args:
        reading: the size measured.
        new: the size when new. Give the end of its tolerance that has the most to wear away.
        service_limit: the size with all allowed wear used up; it is still serviceable.
        uncertainty: expanded uncertainty, as for `judge`. A reading this close to the service
            limit is too close to call, and one better than new by no more than this is as new.

    Raises:
        AssistantError: the units differ in kind, or the new size is the service limit.
    """
    start = units.number_like(new, reading)
    allowed = units.number_like(service_limit, reading) - start
    change = float(reading.magnitude) - start
    if allowed == 0:
        raise AssistantError("The new size and the service limit are the same: check them.")
    step = units.as_difference(reading)
    make = units.registry().Quantity
    sign = math.copysign(1.0, allowed)
    worn, most = make(change * sign, step.units), make(abs(allowed), step.units)
    nothing = make(0.0, step.units)
    doubt = nothing if uncertainty is None else uncertainty
    if judge(worn + abs(doubt), least=nothing).verdict is Verdict.BELOW:
        condition = Condition.BETTER_THAN_NEW
    else:
        condition = {
            Verdict.WITHIN: Condition.SERVICEABLE,
            Verdict.UNSURE: Condition.UNSURE,
        }.get(judge(worn, most=most, uncertainty=uncertainty).verdict, Condition.WORN_OUT)
    return Wear(condition, worn, most, change / allowed, uncertainty)


# --- worked-out values ------------------------------------------------------------------------


def _numbers(readings: Sequence[Quantity], least: int, what: str) -> list[float]:
    if len(readings) < least:
        raise AssistantError(f"{what} needs at least {least} readings, not {len(readings)}.")
    return [units.number_like(reading, readings[0]) for reading in readings]


def _lengths(readings: Sequence[Quantity], least: int, what: str) -> list[float]:
    for reading in readings:
        units.require(reading, "length", f"reading for {what.lower()}")
    return _numbers(readings, least, what)


def _spread(readings: Sequence[Quantity], what: str) -> Quantity:
    numbers = _lengths(readings, 2, what)
    result: Quantity = units.registry().Quantity(max(numbers) - min(numbers), readings[0].units)
    return result


def mean(readings: Sequence[Quantity]) -> Quantity:
    """Return the arithmetic mean in the first reading's unit, also of temperatures.

    Raises:
        AssistantError: there is no reading, or the units differ in kind.
    """
    numbers = _numbers(readings, 1, "A mean")
    result: Quantity = units.registry().Quantity(
        math.fsum(numbers) / len(numbers), readings[0].units
    )
    return result


def clearance(hole: Quantity, shaft: Quantity) -> Quantity:
    """Return hole less shaft, on the diameter; negative is interference (ISO 286-1, 3.2).

    Raises:
        AssistantError: a reading is not a length, or is negative.
    """
    hole_size, shaft_size = _lengths((hole, shaft), 2, "A clearance")
    if min(hole_size, shaft_size) < 0:
        raise AssistantError("A diameter cannot be negative.")
    result: Quantity = units.registry().Quantity(hole_size - shaft_size, hole.units)
    return result


def end_float(space: Quantity, *stack: Quantity) -> Quantity:
    """Return the space between the faces less the stack in it; negative if the stack is too long.

    Raises:
        AssistantError: a reading is not a length, or the stack is empty.
    """
    numbers = _lengths((space, *stack), 2, "End float")
    result: Quantity = units.registry().Quantity(numbers[0] - math.fsum(numbers[1:]), space.units)
    return result


def out_of_round(diameters: Sequence[Quantity]) -> Quantity:
    """Return the largest less the smallest diameter, measured round the bore at one height.

    This is the workshop's figure, on the diameter. Roundness to ISO 1101 is a radial zone, half as
    wide for an oval, and two-point readings cannot detect a bore with an odd number of lobes.

    Raises:
        AssistantError: a reading is not a length, or there are fewer than two.
    """
    return _spread(diameters, "Out of round")


def taper(diameters: Sequence[Quantity]) -> Quantity:
    """Return the largest less the smallest diameter, measured along the bore in one direction.

    Raises:
        AssistantError: a reading is not a length, or there are fewer than two.
    """
    return _spread(diameters, "Taper")


def run_out(dial: Sequence[Quantity]) -> Quantity:
    """Return the total indicator reading: largest less smallest dial reading over a full turn.

    This is circular run-out in the sense of ISO 1101: the full movement of the indicator.

    Raises:
        AssistantError: a reading is not a length, or there are fewer than two.
    """
    return _spread(dial, "Run-out")


@dataclass(frozen=True)
class Row:
    """One row of a selection table: values above `over`, up to and including `up_to`, take `part`.

    None means that there is no limit on that side.
    """

    part: str
    over: Quantity | None = None
    up_to: Quantity | None = None


@dataclass(frozen=True)
class Choice:
    """The part chosen by a reading."""

    part: str
    row: int
    """Index of its row in the table, from 0."""
    unsure: str | None
    """Another part that may be right, if the reading is too close to the border between them."""

    def sentence(self) -> str:
        """Return the choice as a sentence to speak."""
        also = "" if self.unsure is None else f" It is close to {self.unsure}: measure again."
        return f"Fit {self.part}.{also}"


def _row_of(number: float, value: Quantity, rows: Sequence[Row]) -> int | None:
    slack = 1e-9 * max(1e-3, abs(number))
    for place, row in enumerate(rows):
        above = row.over is None or number > units.number_like(row.over, value) + slack
        below = row.up_to is None or number <= units.number_like(row.up_to, value) + slack
        if above and below:
            return place
    return None


def choose(value: Quantity, rows: Sequence[Row], uncertainty: Quantity | None = None) -> Choice:
    """Choose a part (shim, gasket thickness, oversize) by the first row that holds the value.

    Args:
        value: the reading or calculated value.
        rows: the table; limits in any unit of the same dimension.
        uncertainty: expanded uncertainty. If the value is this close to a row with another part,
            the choice names that part too.

    Raises:
        AssistantError: no row holds the value, or the units differ in kind.
    """
    number = float(value.magnitude)
    found = _row_of(number, value, rows)
    if found is None:
        raise AssistantError(
            f"{units.show(value, digits=5)} is outside the table, so no part fits: measure again."
        )
    neighbour = None
    if uncertainty is not None:
        doubt = abs(units.number_like(uncertainty, units.as_difference(value)))
        for other in (_row_of(number + sign * doubt, value, rows) for sign in (-1, 1)):
            if other is not None and rows[other].part != rows[found].part:
                neighbour = rows[other].part
    return Choice(rows[found].part, found, neighbour)
