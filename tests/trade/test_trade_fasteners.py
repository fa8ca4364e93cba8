"""Threads, grades, clamp load, engagement and length, compared with published tables."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from assistant.errors import AssistantError
from assistant.trade import fasteners, units

Q = units.parse_quantity

# The standard rounds to three digits, so its loads are up to 0.6 % from area times strength.
# ISO 898-1:2013, table 4 (EN ISO 898-1): least ultimate tensile load, N.
TENSILE = [
    ("M3", "8.8", 4020),
    ("M5", "4.6", 5680),
    ("M5", "8.8", 11350),
    ("M6", "8.8", 16100),
    ("M7", "8.8", 23100),
    ("M8", "8.8", 29200),
    ("M10", "8.8", 46400),
    ("M12", "8.8", 67400),
    ("M16", "8.8", 125000),
    ("M20", "8.8", 203000),
    ("M36", "8.8", 678000),
    ("M5", "10.9", 14800),
    ("M6", "10.9", 20900),
    ("M8", "10.9", 38100),
    ("M10", "10.9", 60300),
    ("M12", "10.9", 87700),
    ("M16", "10.9", 163000),
    ("M6", "12.9", 24500),
    ("M8", "12.9", 44600),
    ("M10", "12.9", 70800),
    ("M12", "12.9", 103000),
    ("M10", "5.8", 30200),
    ("M8", "9.8", 32900),
]
# ISO 898-1:2013, table 5: proof load, coarse thread, N.
PROOF = [
    ("M3", "4.6", 1130),
    ("M4", "4.8", 2720),
    ("M5", "5.6", 3980),
    ("M6", "5.8", 7640),
    ("M6", "6.8", 8840),
    ("M6", "8.8", 11600),
    ("M8", "8.8", 21200),
    ("M8", "10.9", 30400),
    ("M8", "12.9", 35500),
    ("M10", "8.8", 33700),
    ("M10", "9.8", 37700),
    ("M10", "10.9", 48100),
    ("M12", "8.8", 48900),
    ("M12", "12.9", 81800),
    ("M14", "10.9", 95500),
    ("M16", "8.8", 91000),
    ("M18", "8.8", 115000),
    ("M20", "8.8", 147000),
    ("M20", "10.9", 203000),
    ("M24", "8.8", 212000),
    ("M27", "12.9", 445000),
    # fine thread, ISO 898-1:2013, table 7, from memory
    ("M8x1", "8.8", 22700),
    ("M10x1.25", "8.8", 35500),
    ("M12x1.5", "10.9", 73100),
    ("M16x1.5", "12.9", 162000),
]
# SAE J429, proof load, lbf.
SAE_PROOF = [
    ("1/4-20", "2", 1750),
    ("1/4-20", "5", 2700),
    ("1/4-20", "8", 3800),
    ("5/16-18", "5", 4450),
    ("3/8-16", "2", 4250),
    ("3/8-16", "5", 6600),
    ("3/8-16", "8", 9300),
    ("7/16-14", "5", 9050),
    ("5/8-11", "8", 27100),
    ("3/4-10", "2", 18400),
    ("3/4-10", "5", 28400),
    ("7/8-9", "2", 15200),
    ("1-8", "5", 51500),
    ("1-8", "8", 72700),
    ("1/4-28", "8", 4350),
    ("3/8-24", "5", 7450),
]
# Load at 0.2 % strain of A2-70 and A4-70, N: a published data sheet to ISO 3506.
STAINLESS = [("M3", 2250), ("M4", 3960), ("M5", 6390), ("M6", 9040), ("M8", 16470)]
# ISO 898-1, stress area in mm².
AREAS = {
    "M5": 14.2,
    "M6": 20.1,
    "M7": 28.9,
    "M8": 36.6,
    "M10": 58.0,
    "M12": 84.3,
    "M14": 115,
    "M16": 157,
    "M20": 245,
}


def _both(thread: str, grade: str) -> tuple[fasteners.Thread, fasteners.Grade]:
    of = fasteners.thread(thread)
    return of, fasteners.grade(grade, of)


@pytest.mark.parametrize(("name", "area"), AREAS.items())
def test_stress_area_of_table_and_of_geometry(name: str, area: float) -> None:
    of = fasteners.thread(name)
    assert units.express(fasteners.stress_area(of), "mm²") == pytest.approx(area)
    assert of.geometric_area == pytest.approx(area, rel=0.004)


@pytest.mark.parametrize("name", fasteners._known())
def test_every_table_area_is_its_geometry(name: str) -> None:
    of = fasteners.thread(name)
    assert of.geometric_area == pytest.approx(of.table_area, rel=0.006)


@pytest.mark.parametrize("name", fasteners._known())
def test_geometry_is_that_of_the_reference_library(name: str) -> None:
    of = fasteners.thread(name)
    # PyPI: screw-thread-lib 0.0.6, ISO/TR 16224:2012, 4.2.2.2 and FED-STD-H28/2B, formula 1b
    library = pytest.importorskip("screw_thread_lib.threads")
    other = library.Assembly({"n": 1 / of.pitch, "dbsc": of.diameter})
    area = other.As_FEDSTD_1b() if of.unified else other.As_ISO()
    assert of.geometric_area == pytest.approx(area, rel=1e-4)


@pytest.mark.parametrize(("thread", "grade", "load"), TENSILE)
def test_tensile_load(thread: str, grade: str, load: float) -> None:
    assert units.express(fasteners.tensile_load(*_both(thread, grade)), "N") == pytest.approx(
        load, rel=0.006
    )


@pytest.mark.parametrize(("thread", "grade", "load"), PROOF)
def test_proof_load(thread: str, grade: str, load: float) -> None:
    assert units.express(fasteners.proof_load(*_both(thread, grade)), "N") == pytest.approx(
        load, rel=0.006
    )


@pytest.mark.parametrize(
    ("thread", "grade", "proof", "tensile"),
    [
        # ISO 898-1:2013, table 3, MPa, from memory; the loads above round to three figures.
        ("M8", "4.6", 225, 400),
        ("M8", "4.8", 310, 420),
        ("M8", "5.6", 280, 500),
        ("M8", "5.8", 380, 520),
        ("M8", "6.8", 440, 600),
        ("M16", "8.8", 580, 800),
        ("M18", "8.8", 600, 830),
        ("M39", "8.8", 600, 830),
        ("M16", "9.8", 650, 900),
        ("M39", "10.9", 830, 1040),
        ("M39", "12.9", 970, 1220),
        # ISO 3506-1, austenitic, from memory
        ("M8", "A2-50", 210, 500),
        ("M8", "A2-70", 450, 700),
    ],
)
def test_strength_is_that_of_the_table(
    thread: str, grade: str, proof: float, tensile: float
) -> None:
    strength = _both(thread, grade)[1]
    assert (strength.proof, strength.tensile) == (proof, tensile)


@pytest.mark.parametrize(
    ("thread", "grade", "proof", "tensile"),
    [
        # SAE J429, ksi, from memory; grade 2 and 5 lose strength above 3/4 and 1 in.
        ("1/4-20", "1", 33, 60),
        ("3/4-10", "2", 55, 74),
        ("7/8-9", "2", 33, 60),
        ("1-8", "5", 85, 120),
        ("1-8", "8", 120, 150),
    ],
)
def test_strength_of_inch_grades(thread: str, grade: str, proof: float, tensile: float) -> None:
    # 1 ksi is 6.894 757 MPa, NIST SP 811, B.8.
    strength = _both(thread, grade)[1]
    assert strength.proof == pytest.approx(proof * 6.894757)
    assert strength.tensile == pytest.approx(tensile * 6.894757)


def test_a_class_ends_where_the_standard_ends() -> None:
    with pytest.raises(AssistantError, match=r"no grade '9\.8'"):
        _both("M18", "9.8")


@pytest.mark.parametrize(("thread", "grade", "load"), SAE_PROOF)
def test_proof_load_of_inch_grades(thread: str, grade: str, load: float) -> None:
    # the standard rounds to 50 lbf and more
    assert units.express(fasteners.proof_load(*_both(thread, grade)), "lbf") == pytest.approx(
        load, abs=51
    )


@pytest.mark.parametrize(("thread", "load"), STAINLESS)
def test_stainless(thread: str, load: float) -> None:
    for grade in ("A2-70", "A4-70", "a2 70"):
        assert units.express(fasteners.proof_load(*_both(thread, grade)), "N") == pytest.approx(
            load, rel=0.006
        )
    # ISO 3506-1: 800 and 600 MPa
    strength = _both(thread, "A4-80")[1]
    assert (strength.tensile, strength.proof) == (800, 600)


@pytest.mark.parametrize(
    ("k", "torque"), [(0.30, 72.7), (0.25, 60.6), (0.20, 48.5), (0.15, 36.3), (0.10, 24.2)]
)
def test_torque_for_clamp_load(k: float, torque: float) -> None:
    # Speck, Mechanical Fastening, Joining, and Assembly, ch. 3: 1 275 lbf on 0.190 in
    result = fasteners.torque_for(Q("1275 lbf"), Q("0.19 in"), k)
    assert units.express(result, "lbf·in") == pytest.approx(torque, abs=0.06)
    load = fasteners.clamp_load(result, Q("0.19 in"), k)
    assert units.express(load, "lbf") == pytest.approx(1275)


@pytest.mark.parametrize(
    ("thread", "torque", "load"),
    [
        # Published dry torques, SAE J429 grade 2, K = 0.20, 75 % of proof load; lbf·ft and lbf
        ("1/4-20", 5.4, 1312),
        ("3/8-16", 20, 3197),
        ("1/2-13", 48.8, 5853),
        ("5/8-11", 97.1, 9323),
        ("3/4-10", 172, 13778),
        ("3/8-24", 22.6, 3622),
        ("1/2-20", 55, 6600),
    ],
)
def test_recommended_torque(thread: str, torque: float, load: float) -> None:
    of, strength = _both(thread, "2")
    result = fasteners.recommended_torque(of, strength)
    assert units.express(result, "lbf·ft") == pytest.approx(torque, rel=0.015)
    clamp = fasteners.clamp_load(result, units.quantity(of.diameter, "mm"), 0.2)
    assert units.express(clamp, "lbf") == pytest.approx(load, rel=0.002)


def test_nut_factors() -> None:
    # Shigley, table of torque factors: zinc-plated, cadmium-plated, anti-seize; 0.20 where unknown
    for state, k in {"plated": 0.20, "cadmium": 0.16, "paste": 0.12, "dry": 0.20}.items():
        assert fasteners.nut_factor(state) == k
    assert fasteners.nut_factor("lubricated") == fasteners.nut_factor("oil") == 0.15
    with pytest.raises(AssistantError):
        fasteners.nut_factor("wet")


@pytest.mark.parametrize(
    ("torque", "verdict"),
    [("40 N·m", "past proof load"), ("25 N·m", "sensible"), ("4 N·m", "too loose")],
)
def test_sanity(torque: str, verdict: str) -> None:
    result = fasteners.sanity(Q(torque), *_both("M8", "8.8"))
    assert result.verdict == verdict
    assert result.ok is (verdict == "sensible")
    assert result.sentence().endswith(".")


@pytest.mark.parametrize(
    ("share", "verdict"),
    [
        (0.24, "too loose"),  # a third of a normal preload is 0.25 of proof load (Shigley: 0.75)
        (0.26, "sensible"),
        (0.99, "sensible"),
        (1.01, "past proof load"),
    ],
)
@pytest.mark.parametrize(("thread", "grade"), [("M8", "8.8"), ("M20", "A4-70"), ("1/4-20", "5")])
def test_sanity_at_its_borders(thread: str, grade: str, share: float, verdict: str) -> None:
    of, strength = _both(thread, grade)
    for state in fasteners.NUT_FACTORS:
        torque = fasteners.recommended_torque(of, strength, state) * (share / 0.75)
        result = fasteners.sanity(torque, of, strength, state)
        assert result.verdict == verdict
        assert result.share == pytest.approx(share)


@given(
    st.floats(0.5, 500),
    st.floats(0.5, 500),
    st.sampled_from(["M6", "M8", "M12x1.5", "M16"]),
    st.sampled_from(sorted(fasteners.NUT_FACTORS)),
)
def test_clamp_is_monotonic_and_turns_back(a: float, b: float, name: str, state: str) -> None:
    diameter = units.quantity(fasteners.thread(name).diameter, "mm")
    k = fasteners.nut_factor(state)
    loads = [fasteners.clamp_load(units.quantity(t, "N·m"), diameter, k) for t in (a, b)]
    if a < b:
        assert loads[0].magnitude < loads[1].magnitude
    back = fasteners.torque_for(loads[0], diameter, k)
    assert units.express(back, "N·m") == pytest.approx(a)


@pytest.mark.parametrize(
    ("text", "name"),
    [
        ("M8", "M8"),
        ("m 8", "M8"),
        ("M8x1.25", "M8"),
        ("M8 × 1", "M8x1"),
        ("M10x1.25", "M10x1.25"),
        ("M8x1.25-6g", "M8"),
        ("1/4-20", "1/4-20"),
        ("1/4 UNF", "1/4-28"),
        ("10-32", "#10-32"),
        ("#10-24 UNC", "#10-24"),
        ("5/16-18 UNC-2A", "5/16-18"),
        ("1-8", "1-8"),
    ],
)
def test_thread_names(text: str, name: str) -> None:
    assert fasteners.thread(text).name == name


@pytest.mark.parametrize("text", ["", "M9", "M8x2", "1/4", "1/4-24", "8", "W 1/4", "M", "M1000"])
def test_unknown_threads(text: str) -> None:
    with pytest.raises(AssistantError) as caught:
        fasteners.thread(text)
    assert "\n" not in str(caught.value)


@pytest.mark.parametrize(
    ("thread", "grade"),
    [("M8", "8.9"), ("M8", "5"), ("1/4-20", "8.8"), ("M20", "9.8"), ("M8", "A2-60"), ("M8", "")],
)
def test_unknown_grades(thread: str, grade: str) -> None:
    with pytest.raises(AssistantError, match="no grade"):
        _both(thread, grade)


def test_absurd_values() -> None:
    of, strength = _both("M8", "8.8")
    for torque in ("0 N·m", "-5 N·m", "5 mm"):
        with pytest.raises(AssistantError):
            fasteners.sanity(Q(torque), of, strength)
    with pytest.raises(AssistantError):
        fasteners.clamp_load(Q("5 N·m"), Q("8 mm"), 2)
    with pytest.raises(AssistantError):
        fasteners.recommended_torque(of, strength, share=1.2)


def test_engagement() -> None:
    # Rule of thumb of the trade press: 1 d in steel, 1.5 d in cast iron, 2 d in aluminium
    for material, diameters in {"steel": 1, "cast iron": 1.5, "aluminum": 2}.items():
        needed = fasteners.engagement_needed(fasteners.thread("M8"), material)
        assert units.express(needed, "mm") == 8 * diameters
    with pytest.raises(AssistantError):
        fasteners.engagement_needed(fasteners.thread("M8"), "cheese")


def test_swapped_lengths_are_caught() -> None:
    # Two lengths in one cover: 40 mm through a 20 mm boss, 30 mm through a 10 mm flange.
    of, hole = fasteners.thread("M8"), Q("24 mm")
    right = [("40 mm", "20 mm"), ("30 mm", "10 mm")]
    swapped = [("40 mm", "10 mm"), ("30 mm", "20 mm")]
    for length, grip in right:
        result = fasteners.bolt_length(of, Q(length), Q(grip), None, hole, "aluminium")
        assert result.fit is fasteners.Fit.GOOD
    fits = [
        fasteners.bolt_length(of, Q(length), Q(grip), None, hole, "aluminium").fit
        for length, grip in swapped
    ]
    assert fits == [fasteners.Fit.BOTTOMS, fasteners.Fit.SHORT]


@given(st.floats(5, 100), st.floats(0, 60), st.floats(0, 5), st.floats(5, 60))
def test_length_adds_up(length: float, grip: float, washer: float, hole: float) -> None:
    under, through, plate, depth = (
        units.quantity(number, "mm") for number in (length, grip, washer, hole)
    )
    result = fasteners.bolt_length(fasteners.thread("M8"), under, through, plate, depth)
    assert units.express(result.engaged, "mm") == pytest.approx(length - grip - washer, abs=1e-9)
    assert result.room is not None
    assert math.isclose(
        units.express(result.engaged, "mm") + units.express(result.room, "mm"), hole, abs_tol=1e-9
    )
    if result.fit is fasteners.Fit.GOOD:
        assert 8 - 1e-6 <= length - grip - washer <= hole - 1.25 + 1e-6


def test_length_refuses() -> None:
    of = fasteners.thread("M8")
    with pytest.raises(AssistantError):
        fasteners.bolt_length(of, Q("0 mm"), Q("5 mm"))
    with pytest.raises(AssistantError):
        fasteners.bolt_length(of, Q("30 mm"), Q("-5 mm"))
    with pytest.raises(AssistantError):
        fasteners.bolt_length(of, Q("30 bar"), Q("5 mm"))
