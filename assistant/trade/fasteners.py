"""Threads, strength grades, clamp load and bolt length: whether a bolt and its torque make sense.

Clamp load follows from torque by the nut factor, T = K·F·d, which is good to about ±30 % (common
rule). That is enough to catch a wrong figure. It must never replace the maker's own torque.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from enum import StrEnum
from typing import TYPE_CHECKING

from assistant.errors import AssistantError
from assistant.trade import units

if TYPE_CHECKING:
    from assistant.trade.units import Quantity

# --- threads ----------------------------------------------------------------------------------

# Diameter in mm to (pitch in mm, nominal stress area in mm²). Stress areas: ISO 898-1:2013, coarse
# from its table, fine from memory of it; the tests work out both from the geometry. Diameters and
# pitches: ISO 261/262.
METRIC_COARSE: dict[float, tuple[float, float]] = {
    3: (0.5, 5.03),
    3.5: (0.6, 6.78),
    4: (0.7, 8.78),
    5: (0.8, 14.2),
    6: (1, 20.1),
    7: (1, 28.9),
    8: (1.25, 36.6),
    10: (1.5, 58.0),
    12: (1.75, 84.3),
    14: (2, 115),
    16: (2, 157),
    18: (2.5, 192),
    20: (2.5, 245),
    22: (2.5, 303),
    24: (3, 353),
    27: (3, 459),
    30: (3.5, 561),
    33: (3.5, 694),
    36: (4, 817),
    39: (4, 976),
}
METRIC_FINE: dict[tuple[float, float], float] = {
    (8, 1): 39.2,
    (10, 1.25): 61.2,
    (10, 1): 64.5,
    (12, 1.5): 88.1,
    (12, 1.25): 92.1,
    (14, 1.5): 125,
    (16, 1.5): 167,
    (18, 1.5): 216,
    (20, 1.5): 272,
    (22, 1.5): 333,
    (24, 2): 384,
    (27, 2): 496,
    (30, 2): 621,
    (33, 2): 761,
    (36, 3): 865,
    (39, 3): 1030,
}
# Size to (diameter in inches, coarse thread, fine thread), each thread as (threads per inch, stress
# area in in²). Areas: SAE J429 and ASME B1.1.
UNIFIED: dict[str, tuple[float, tuple[int, float], tuple[int, float]]] = {
    "#8": (0.164, (32, 0.0140), (36, 0.0147)),
    "#10": (0.190, (24, 0.0175), (32, 0.0200)),
    "#12": (0.216, (24, 0.0242), (28, 0.0258)),
    "1/4": (0.25, (20, 0.0318), (28, 0.0364)),
    "5/16": (0.3125, (18, 0.0524), (24, 0.0580)),
    "3/8": (0.375, (16, 0.0775), (24, 0.0878)),
    "7/16": (0.4375, (14, 0.1063), (20, 0.1187)),
    "1/2": (0.5, (13, 0.1419), (20, 0.1599)),
    "9/16": (0.5625, (12, 0.182), (18, 0.203)),
    "5/8": (0.625, (11, 0.226), (18, 0.256)),
    "3/4": (0.75, (10, 0.334), (16, 0.373)),
    "7/8": (0.875, (9, 0.462), (14, 0.509)),
    "1": (1.0, (8, 0.606), (12, 0.663)),
}


@dataclass(frozen=True)
class Thread:
    """A screw thread; lengths in mm, area in mm²."""

    name: str
    diameter: float
    pitch: float
    table_area: float
    """Nominal stress area from the standard's table."""
    unified: bool

    @property
    def geometric_area(self) -> float:
        """Stress area from the thread's geometry, in mm².

        Metric: π/4·(d − 0.9382 P)², ISO 898-1. Unified: π/4·(d − 0.9743/n)², ASME B1.1.
        """
        factor = 0.9743 if self.unified else 0.9382
        return math.pi / 4 * (self.diameter - factor * self.pitch) ** 2


_METRIC = re.compile(
    r"M\s*(\d+(?:\.\d+)?)(?:\s*[x×*-]\s*(\d*\.?\d+))?(?:\s*-\s*\d?[gGhH]\w*)?", re.I
)
_UNIFIED = re.compile(
    r"(#?\d+(?:/\d+)?)\s*(?:in|\")?\s*(?:-\s*(\d+))?\s*(UNC|UNF|UNRC|UNRF)?(?:\s*-?\s*[123][AB])?",
    re.I,
)


def _known() -> list[str]:
    return [
        *(f"M{d:g}" for d in METRIC_COARSE),
        *(f"M{d:g}x{p:g}" for d, p in METRIC_FINE),
        *(f"{size}-{n}" for size, (_, *both) in UNIFIED.items() for n, _ in both),
    ]


def thread(text: str) -> Thread:
    """Read a thread: "M8", "M10x1.25", "1/4-20", "#10-32", "3/8 UNF", "5/16-18 UNC-2A".

    Raises:
        AssistantError: the tables have no such thread; the message names the nearest one.
    """
    found = _metric(text) or _unified(text)
    if found is None:
        from rapidfuzz import fuzz, process

        near = process.extractOne(text.strip(), _known(), scorer=fuzz.ratio, processor=str.casefold)
        hint = f"did you mean {near[0]}?" if near and near[1] >= 50 else "write it as M8 or 1/4-20."
        metric = _METRIC.fullmatch(text.strip())
        if metric is not None:
            size = min(METRIC_COARSE, key=lambda known: abs(known - float(metric[1])))
            pitches = [METRIC_COARSE[size][0], *(p for d, p in METRIC_FINE if d == size)]
            hint = f"M{size:g} is there, of pitch {' or '.join(f'{p:g}' for p in pitches)}."
        raise AssistantError(f"There is no thread {text.strip()!r} in the tables: {hint}")
    return found


def _metric(text: str) -> Thread | None:
    match = _METRIC.fullmatch(text.strip())
    if match is None:
        return None
    diameter = float(match[1])
    coarse = METRIC_COARSE.get(diameter)
    pitch = float(match[2]) if match[2] else (coarse[0] if coarse else 0.0)
    if coarse and pitch == coarse[0]:
        return Thread(f"M{diameter:g}", diameter, pitch, coarse[1], False)
    area = METRIC_FINE.get((diameter, pitch))
    return Thread(f"M{diameter:g}x{pitch:g}", diameter, pitch, area, False) if area else None


def _unified(text: str) -> Thread | None:
    match = _UNIFIED.fullmatch(text.strip())
    if match is None or (match[2] is None and match[3] is None):
        return None
    size = match[1]
    if size not in UNIFIED:
        size = "#" + size.lstrip("#")
    if size not in UNIFIED:
        return None
    diameter, coarse, fine = UNIFIED[size]
    for (count, area), series in ((coarse, "C"), (fine, "F")):
        if match[2] is not None and int(match[2]) != count:
            continue
        if match[3] is not None and match[3][-1].upper() != series:
            continue
        return Thread(f"{size}-{count}", diameter * 25.4, 25.4 / count, area * 645.16, True)
    return None


def stress_area(of: Thread) -> Quantity:
    """Return the nominal stress area of the table, in mm²."""
    return units.quantity(of.table_area, "mm²")


# --- grades -----------------------------------------------------------------------------------

_KSI = 6.894757  # MPa; NIST SP 811, B.8


@dataclass(frozen=True)
class Grade:
    """Strength of a bolt's material, for the size of its thread; stresses in MPa."""

    name: str
    proof: float
    """Proof stress; for stainless steel, which has none, the stress at 0.2 % strain."""
    tensile: float
    """Tensile strength."""


# Property class to rows of (largest diameter in mm, proof stress, tensile strength) in MPa:
# ISO 898-1:2013, table 3.
_METRIC_CLASSES: dict[str, tuple[tuple[float, float, float], ...]] = {
    "4.6": ((39, 225, 400),),
    "4.8": ((39, 310, 420),),
    "5.6": ((39, 280, 500),),
    "5.8": ((39, 380, 520),),
    "6.8": ((39, 440, 600),),
    "8.8": ((16, 580, 800), (39, 600, 830)),
    "9.8": ((16, 650, 900),),
    "10.9": ((39, 830, 1040),),
    "12.9": ((39, 970, 1220),),
}
# Austenitic stainless steel: (stress at 0.2 % strain, tensile strength) in MPa, ISO 3506-1.
_STAINLESS: dict[str, tuple[float, float]] = {"50": (210, 500), "70": (450, 700), "80": (600, 800)}
# SAE grade to rows of (largest diameter in inches, proof stress, tensile strength) in ksi:
# SAE J429; grade 1 from memory.
_SAE: dict[str, tuple[tuple[float, float, float], ...]] = {
    "1": ((1.5, 33, 60),),
    "2": ((0.75, 55, 74), (1.5, 33, 60)),
    "5": ((1.0, 85, 120), (1.5, 74, 105)),
    "8": ((1.5, 120, 150),),
}


def grade(text: str, of: Thread) -> Grade:
    """Read a property class or grade for a thread, such as "8.8", "A4-70" or "grade 5".

    Classes such as 8.8 are for metric threads, SAE grades for unified ones, stainless for both.

    Raises:
        AssistantError: there is no such grade for this thread.
    """
    name = re.sub(r"^(SAE|J429|grade|gr\.?|class|cl\.?|\s)+", "", text.strip(), flags=re.I).upper()
    stainless = re.fullmatch(r"A[1-5][ -]?(50|70|80)", name)
    if stainless:
        proof, tensile = _STAINLESS[stainless[1]]
        return Grade(f"{name[:2]}-{stainless[1]}", proof, tensile)
    rows = _SAE.get(name) if of.unified else _METRIC_CLASSES.get(name)
    size = of.diameter / 25.4 if of.unified else of.diameter
    for largest, proof, tensile in rows or ():
        if size <= largest + 1e-9:
            scale = _KSI if of.unified else 1.0
            return Grade(f"grade {name}" if of.unified else name, proof * scale, tensile * scale)
    known = ", ".join(_SAE if of.unified else _METRIC_CLASSES)
    raise AssistantError(
        f"There is no grade {text.strip()!r} for {of.name}: use {known} or a stainless one such "
        "as A2-70."
    )


def strongest(of: Thread) -> Grade:
    """Return the strongest usual class for a thread: the measure where none is stated."""
    return grade("8" if of.unified else "12.9", of)


def proof_load(of: Thread, strength: Grade) -> Quantity:
    """Return the proof load in N: table stress area times proof stress (ISO 898-1, table 5)."""
    return units.quantity(of.table_area * strength.proof, "N")


def tensile_load(of: Thread, strength: Grade) -> Quantity:
    """Return the minimum ultimate tensile load in N (ISO 898-1, table 4)."""
    return units.quantity(of.table_area * strength.tensile, "N")


# --- torque and clamp load --------------------------------------------------------------------

NUT_FACTORS: dict[str, float] = {
    "dry": 0.20,  # Shigley: where the state is not known; SAE torque charts, "dry"
    "oil": 0.15,  # SAE torque charts, "lubricated"
    "grease": 0.15,  # as oil; common practice, no source
    "paste": 0.12,  # anti-seize paste: Shigley, table of torque factors
    "thread-locker": 0.15,  # wet thread-locker lubricates; common practice, no source
    "zinc plated": 0.20,  # Shigley, table of torque factors
    "cadmium plated": 0.16,  # Shigley, table of torque factors
}
_SAME_STATE = {
    "lubricated": "oil",
    "oiled": "oil",
    "greased": "grease",
    "anti-seize": "paste",
    "thread-locked": "thread-locker",
    "threadlocker": "thread-locker",
    "plated": "zinc plated",
    "zinc": "zinc plated",
    "cadmium": "cadmium plated",
}
NORMAL_PRELOAD = 0.75
"""Preload as a share of proof load for a joint that is taken apart again (Shigley, bolted joints).
A permanent joint gets 0.90."""
LEAST_PRELOAD = NORMAL_PRELOAD / 3
"""Share of proof load below which a torque is too low: a third of a normal preload (our choice)."""


def nut_factor(state: str) -> float:
    """Return the nut factor K for the state of the threads, such as "dry" or "oil".

    Raises:
        AssistantError: there is no such state.
    """
    name = " ".join(state.lower().split())
    name = _SAME_STATE.get(name, name)
    if name not in NUT_FACTORS:
        raise AssistantError(
            f"There is no thread state {state!r}: use one of {', '.join(NUT_FACTORS)}."
        )
    return NUT_FACTORS[name]


def _factor(k: float) -> float:
    if not 0.03 <= k <= 0.6:
        raise AssistantError(f"A nut factor of {k:g} cannot be right: use one of 0.03 to 0.6.")
    return k


def clamp_load(torque: Quantity, diameter: Quantity, k: float) -> Quantity:
    """Return the clamp load F = T/(K·d) in N.

    Args:
        torque: above 0.
        diameter: nominal diameter, above 0.
        k: nut factor, 0.03 to 0.6.

    Raises:
        AssistantError: a quantity of the wrong kind, or a value out of range.
    """
    units.require(torque, "torque", "torque", above=0)
    units.require(diameter, "length", "diameter", above=0)
    metres = units.express(diameter, "m")
    return units.quantity(units.express(torque, "N·m") / (_factor(k) * metres), "N")


def torque_for(load: Quantity, diameter: Quantity, k: float) -> Quantity:
    """Return the torque T = K·F·d in N·m for a clamp load; otherwise as `clamp_load`."""
    units.require(load, "force", "clamp load", above=0)
    units.require(diameter, "length", "diameter", above=0)
    metres = units.express(diameter, "m")
    return units.quantity(_factor(k) * units.express(load, "N") * metres, "N·m")


def recommended_torque(
    of: Thread, strength: Grade, state: str = "dry", share: float = NORMAL_PRELOAD
) -> Quantity:
    """Return a torque in N·m for a joint whose maker gives none, at a share of proof load.

    Raises:
        AssistantError: there is no such state, or the share is not above 0 and at most 1.
    """
    if not 0 < share <= 1:
        raise AssistantError("A preload is a share of proof load above 0 and at most 1.")
    load = proof_load(of, strength) * share
    return torque_for(load, units.quantity(of.diameter, "mm"), nut_factor(state))


class Tightness(StrEnum):
    """How a torque suits a bolt."""

    PAST_PROOF = "past proof load"
    SENSIBLE = "sensible"
    TOO_LOOSE = "too loose"


@dataclass(frozen=True)
class Sanity:
    """A torque judged by the strength of its bolt."""

    verdict: Tightness
    load: Quantity
    """Clamp load, N."""
    share: float
    """Clamp load as a share of proof load."""
    recommended: Quantity
    """Torque for a normal preload, N·m."""
    bolt: str
    """Thread and grade, such as "M8 8.8"."""

    @property
    def ok(self) -> bool:
        """Whether the torque makes sense."""
        return self.verdict is Tightness.SENSIBLE

    def sentence(self) -> str:
        """Return the judgement as a sentence to speak."""
        gives = f"{units.show(self.load, 'kN')} of clamp, {self.share * 100:.0f}% of proof load"
        usual = f"about {units.show(self.recommended)} is usual"
        if self.verdict is Tightness.PAST_PROOF:
            return f"That torque would pass the proof load of {self.bolt}: {gives}; {usual}."
        if self.verdict is Tightness.TOO_LOOSE:
            return f"That torque is too low for {self.bolt}: {gives}; {usual}."
        return f"{self.bolt} gets {gives}."


def sanity(torque: Quantity, of: Thread, strength: Grade, state: str = "dry") -> Sanity:
    """Judge a torque: past proof load, below a third of a normal preload, or sensible.

    Raises:
        AssistantError: the torque is not above 0, or there is no such state of the threads.
    """
    load = clamp_load(torque, units.quantity(of.diameter, "mm"), nut_factor(state))
    share = units.express(load, "N") / units.express(proof_load(of, strength), "N")
    verdict = Tightness.SENSIBLE
    if share > 1 + 1e-9:
        verdict = Tightness.PAST_PROOF
    elif share < LEAST_PRELOAD - 1e-9:
        verdict = Tightness.TOO_LOOSE
    usual = recommended_torque(of, strength, state)
    return Sanity(verdict, load, share, usual, f"{of.name} {strength.name}")


# --- engagement and length --------------------------------------------------------------------

ENGAGEMENT: dict[str, float] = {"steel": 1.0, "cast iron": 1.5, "aluminium": 2.0}
"""Thread engagement for the bolt's full strength, in diameters, by the tapped material: a design
rule of thumb (trade press and textbooks; ISO 898-1 does not cover it)."""


def engagement_needed(of: Thread, material: str) -> Quantity:
    """Return the thread engagement that the bolt needs for its full strength, in mm.

    Raises:
        AssistantError: there is no rule for this material.
    """
    name = " ".join(material.lower().replace("aluminum", "aluminium").split())
    if name not in ENGAGEMENT:
        raise AssistantError(
            f"There is no rule for a thread in {material!r}: use one of {', '.join(ENGAGEMENT)}."
        )
    return units.quantity(ENGAGEMENT[name] * of.diameter, "mm")


class Fit(StrEnum):
    """How a bolt's length suits its hole."""

    GOOD = "good"
    BOTTOMS = "bottoms"
    SHORT = "too short"


@dataclass(frozen=True)
class Length:
    """A bolt's length judged by its grip and its hole; lengths in mm."""

    fit: Fit
    engaged: Quantity
    """Length of thread in the hole or nut; negative if the bolt does not reach it."""
    needed: Quantity
    """Thread engagement needed for full strength."""
    room: Quantity | None
    """Length left at the bottom of a blind hole; None for a through hole or a nut."""

    def sentence(self) -> str:
        """Return the judgement as a sentence to speak."""
        into = f"{units.show(self.engaged)} of thread goes in"
        if self.fit is Fit.BOTTOMS:
            return f"The bolt bottoms before it clamps: {into}, too deep for the hole."
        if self.fit is Fit.SHORT:
            return f"The bolt is too short: {into}, {units.show(self.needed)} is needed."
        return f"The length is good: {into}, {units.show(self.needed)} is needed."


def bolt_length(
    of: Thread,
    length: Quantity,
    grip: Quantity,
    washer: Quantity | None = None,
    hole_depth: Quantity | None = None,
    material: str = "steel",
) -> Length:
    """Check a bolt's length against grip, washer and hole.

    A bolt counts as bottoming with less than one pitch to spare, because its chamfered end and the
    thread run-out of the hole take that up (common practice, no source). A bolt that is too short
    and bottoms as well is reported as bottoming, because it feels tight although it does not clamp.

    Args:
        of: the thread.
        length: under the head, above 0.
        grip: thickness of the clamped parts, without the washer.
        washer: thickness of the washer under the head.
        hole_depth: depth of full thread in a blind hole, from the joint face; None for a nut or a
            through hole.
        material: the tapped material.

    Raises:
        AssistantError: a quantity that is not a length or is negative, or an unknown material.
    """
    units.require(length, "length", "bolt's length", above=0)
    zero = units.quantity(0, "mm")
    washer = zero if washer is None else washer
    for value, what in ((grip, "grip"), (washer, "washer")):
        units.require(value, "length", what)
        if value.magnitude < 0:
            raise AssistantError(f"The {what} cannot be negative.")
    inside = units.express(length, "mm") - units.express(grip, "mm") - units.express(washer, "mm")
    needed = engagement_needed(of, material)
    room = None
    if hole_depth is not None:
        units.require(hole_depth, "length", "hole's depth", above=0)
        room = units.quantity(units.express(hole_depth, "mm") - inside, "mm")
    if room is not None and room.magnitude < of.pitch - 1e-9:
        fit = Fit.BOTTOMS
    else:
        fit = Fit.GOOD if inside >= float(needed.magnitude) - 1e-9 else Fit.SHORT
    return Length(fit, units.quantity(inside, "mm"), needed, room)
