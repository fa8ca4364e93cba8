"""Thread-locker, hold tests and fluids."""

import pytest
import uncertainties
from hypothesis import given
from hypothesis import strategies as st

from assistant.errors import AssistantError
from assistant.trade import fluids, leak, threadlocker, units

Q = units.parse_quantity

# --- thread-locker ----------------------------------------------------------------------------


def test_generic_table_is_marked_and_cures_in_a_day() -> None:
    # Anaerobics "fully cure in 24 hours at room temperature": trade press; handling in minutes
    result = threadlocker.cure("medium", Q("22 °C"))
    assert units.express(result.full, "h") == pytest.approx(24)
    assert 5 <= units.express(result.handling, "min") <= 60
    assert "generic" in result.table.source
    assert "generic" in result.sentence()
    assert "full cure after 24 h" in result.sentence()
    # To two digits: at most 24 h doubled, the table's factor for 11 degrees less.
    slow = threadlocker.cure("medium", Q("15 °C"))
    hours = units.express(slow.full, "h")
    assert f"full cure after {hours:.0f} h" in slow.sentence()


def test_uses_and_release() -> None:
    result = threadlocker.cure("high", Q("22 °C"))
    for use in ("fill", "pressure test", "run"):
        assert not result.ready(use, Q("23 h"))
        assert result.ready(use, Q("24 h"))
    assert result.ready("handle", Q("30 min"))
    # Softens at 450 to 600 °F (232 to 316 °C): makers' advice for high strength
    assert "250 degrees" in result.release
    assert "Heat" not in threadlocker.cure("low", Q("22 °C")).release
    with pytest.raises(AssistantError):
        result.ready("fly", Q("1 h"))
    with pytest.raises(AssistantError):
        result.ready("run", Q("1 mm"))


@given(st.floats(5, 40), st.floats(5, 40), st.floats(0, 0.25), st.floats(0, 0.25), st.booleans())
def test_cure_is_slower_in_the_cold_and_in_a_wide_gap(
    cold: float, warm: float, narrow: float, wide: float, primer: bool
) -> None:
    cold, warm = sorted((cold, warm))
    narrow, wide = sorted((narrow, wide))
    slow = threadlocker.cure(
        "medium", units.quantity(cold, "°C"), units.quantity(wide, "mm"), primer=primer
    )
    fast = threadlocker.cure(
        "medium", units.quantity(warm, "°C"), units.quantity(narrow, "mm"), primer=primer
    )
    assert slow.full.magnitude >= fast.full.magnitude * (1 - 1e-9)
    assert slow.handling.magnitude <= slow.full.magnitude


def test_primer_makes_up_for_passive_metal() -> None:
    bare = threadlocker.cure("medium", Q("22 °C"), metal="stainless")
    primed = threadlocker.cure("medium", Q("22 °C"), metal="stainless", primer=True)
    assert primed.full.magnitude < bare.full.magnitude


@pytest.mark.parametrize(
    ("strength", "temperature", "gap", "metal"),
    [
        ("green", "22 °C", "0.05 mm", "steel"),
        ("medium", "-10 °C", "0.05 mm", "steel"),
        ("medium", "90 °C", "0.05 mm", "steel"),
        ("medium", "22 °C", "0.5 mm", "steel"),
        ("medium", "22 °C", "-0.1 mm", "steel"),
        ("medium", "22 °C", "0.05 mm", "cheese"),
        ("medium", "22 mm", "0.05 mm", "steel"),
    ],
)
def test_cure_refuses_to_guess(strength: str, temperature: str, gap: str, metal: str) -> None:
    with pytest.raises(AssistantError):
        threadlocker.cure(strength, Q(temperature), Q(gap), metal=metal)


def test_a_shop_replaces_the_table() -> None:
    text = threadlocker.SHIPPED.read_text(encoding="utf-8")
    own = threadlocker.read_table(
        text.replace("full: 24 h", "full: 6 h").replace("generic, not a product's", "our own")
    )
    result = threadlocker.cure("medium", Q("22 °C"), table=own)
    assert units.express(result.full, "h") == pytest.approx(6)
    assert "our own" in result.sentence()
    for broken in (
        "",
        "name: x",
        "[",
        text.replace("24 h", "24 mm"),
        text.replace("24 h", "1 min"),
        text.replace("primer: 0.5", "primer: -1"),
        text.replace("run: full", "run: soon"),
    ):
        with pytest.raises(AssistantError):
            threadlocker.read_table(broken)


# --- leak -------------------------------------------------------------------------------------


def test_vacuum_decay_against_the_federal_example() -> None:
    # 40 CFR 1065.644, example: 2.000 l, 25.300 to 50.600 kPa absolute, 293.15 K, 70 s gives
    # 0.00030 mol/s
    air = Q("101.325 kPa")
    result = leak.hold(
        units.quantity(25.3 - 101.325, "kPa"),
        units.quantity(50.6 - 101.325, "kPa"),
        Q("1 kPa"),
        start_temperature=Q("293.15 K"),
        end_temperature=Q("293.15 K"),
        volume=Q("2 l"),
        time=Q("70 s"),
        atmosphere=air,
    )
    assert result.moles == pytest.approx(0.00030, abs=0.000005)
    assert result.outcome is leak.Outcome.FAIL
    assert units.express(result.lost, "kPa") == pytest.approx(25.3)


def test_leak_rate() -> None:
    # Q = Δp·V/t, textbook: 60 mbar from 2 l in 60 s is 2 mbar·l/s
    result = leak.hold(Q("2 bar"), Q("1.94 bar"), Q("0.1 bar"), volume=Q("2 l"), time=Q("60 s"))
    assert result.rate is not None
    assert units.express(result.rate, "mbar·l/s") == pytest.approx(2)
    # 1 mbar·l/s is 0.1 Pa·m³/s (SI)
    assert units.express(result.rate, "Pa·m³/s") == pytest.approx(0.2)
    assert result.outcome is leak.Outcome.PASS


def test_temperature_explains_a_drop() -> None:
    # Gay-Lussac: 300 kPa absolute from 300 K to 297 K is 297 kPa
    result = leak.hold(
        Q("200 kPa"),
        Q("197 kPa"),
        Q("0.5 kPa"),
        start_temperature=Q("300 K"),
        end_temperature=Q("297 K"),
        atmosphere=Q("100 kPa"),
    )
    assert units.express(result.thermal, "kPa") == pytest.approx(3)
    assert units.express(result.lost, "kPa") == pytest.approx(0, abs=1e-9)
    assert result.outcome is leak.Outcome.PASS
    assert leak.hold(Q("200 kPa"), Q("197 kPa"), Q("0.5 kPa")).outcome is leak.Outcome.FAIL


@given(st.floats(-0.9, 15), st.floats(0, 40), st.floats(0, 40))
def test_a_tight_volume_loses_nothing_at_any_temperature(p: float, t1: float, t2: float) -> None:
    if abs(p) < 0.01:
        return
    start = units.quantity(p, "bar")
    cold, warm = units.quantity(t1, "°C"), units.quantity(t2, "°C")
    end = leak.expected(start, cold, warm, units.quantity(leak.ATMOSPHERE_KPA, "kPa"))
    result = leak.hold(start, end, Q("1 mbar"), start_temperature=cold, end_temperature=warm)
    assert units.express(result.lost, "mbar") == pytest.approx(0, abs=1e-6)
    assert result.outcome is leak.Outcome.PASS


def test_vacuum_and_doubt() -> None:
    assert leak.hold(Q("-0.8 bar"), Q("-0.79 bar"), Q("20 mbar")).outcome is leak.Outcome.PASS
    assert leak.hold(Q("-0.8 bar"), Q("-0.7 bar"), Q("20 mbar")).outcome is leak.Outcome.FAIL
    assert leak.hold(Q("2 bar"), Q("2.1 bar"), Q("20 mbar")).outcome is leak.Outcome.DOUBTFUL
    assert leak.hold(Q("-0.8 bar"), Q("-0.9 bar"), Q("20 mbar")).outcome is leak.Outcome.DOUBTFUL


def test_a_test_without_temperatures_says_so() -> None:
    bare = leak.hold(Q("2 bar"), Q("1.99 bar"), Q("20 mbar"))
    assert not bare.corrected
    assert units.express(bare.thermal, "mbar") == pytest.approx(0)
    assert "no temperatures were read" in bare.sentence()
    read = leak.hold(
        Q("2 bar"),
        Q("1.99 bar"),
        Q("20 mbar"),
        start_temperature=Q("20 °C"),
        end_temperature=Q("20 °C"),
    )
    assert read.corrected
    assert read.sentence() == (
        "Pass: 10 mbar lost of 20 mbar allowed to be lost; the gauge shows 10 mbar, "
        "temperature explains 0 mbar."
    )


def test_a_gain_has_no_leak_rate() -> None:
    def test(end: str) -> leak.Hold:
        return leak.hold(Q("2 bar"), Q(end), Q("20 mbar"), volume=Q("2 l"), time=Q("60 s"))

    for end, outcome in (("2.01 bar", leak.Outcome.PASS), ("2.1 bar", leak.Outcome.DOUBTFUL)):
        gain = test(end)
        assert gain.outcome is outcome
        assert gain.lost.magnitude < 0
        assert gain.rate is None
        assert gain.moles is None
        assert "Leak rate" not in gain.sentence()
    assert "10 mbar gained" in test("2.01 bar").sentence()
    still = test("2 bar").rate
    assert still is not None
    assert still.magnitude == pytest.approx(0)
    # In a vacuum test, a deeper vacuum is a gain too.
    gain = leak.hold(Q("-0.8 bar"), Q("-0.81 bar"), Q("20 mbar"), volume=Q("2 l"), time=Q("60 s"))
    assert gain.rate is None


def test_a_loss_at_the_limit_is_judged_as_any_reading() -> None:
    # The limit itself passes. With a resolution, a loss closer to it than the uncertainty is too
    # close to call (ISO 14253-1). Two readings to 1 mbar: √2 · 2/√12 = 0.82 mbar (GUM, F.2.2.1 and
    # 5.1.2).
    for end, bare, called in (
        ("1.982 bar", leak.Outcome.PASS, leak.Outcome.PASS),
        ("1.981 bar", leak.Outcome.PASS, leak.Outcome.PASS),
        ("1.9805 bar", leak.Outcome.PASS, leak.Outcome.UNSURE),
        ("1.98 bar", leak.Outcome.PASS, leak.Outcome.UNSURE),
        ("1.9795 bar", leak.Outcome.FAIL, leak.Outcome.UNSURE),
        ("1.979 bar", leak.Outcome.FAIL, leak.Outcome.FAIL),
    ):
        assert leak.hold(Q("2 bar"), Q(end), Q("20 mbar")).outcome is bare, end
        found = leak.hold(Q("2 bar"), Q(end), Q("20 mbar"), resolution=Q("1 mbar"))
        assert found.outcome is called, end
        assert found.uncertainty is not None
        assert units.express(found.uncertainty, "mbar") == pytest.approx(0.8165, abs=1e-4)
    unsure = leak.hold(Q("2 bar"), Q("1.98 bar"), Q("20 mbar"), resolution=Q("1 mbar"))
    assert unsure.sentence().startswith("Too close to call, good to 0.82 mbar: 20 mbar lost")
    with pytest.raises(AssistantError):
        leak.hold(Q("2 bar"), Q("1.98 bar"), Q("20 mbar"), resolution=Q("1 mm"))
    with pytest.raises(AssistantError):
        leak.hold(Q("2 bar"), Q("1.98 bar"), Q("20 mbar"), resolution=Q("-1 mbar"))


@given(st.floats(0.2, 5), st.floats(0.9, 1), st.floats(5, 35), st.floats(-10, 10))
def test_uncertainty_of_a_loss_is_that_of_the_uncertainties_library(
    start: float, kept: float, at: float, change: float
) -> None:
    # The package uncertainties (PyPI) propagates linearly, with its own derivatives.
    def reading(value: float, resolution: float) -> uncertainties.UFloat:
        return uncertainties.ufloat(value, 2 * resolution / 12**0.5)

    p1, p2 = reading(start, 0.001), reading(start * kept, 0.001)
    t1, t2 = reading(at, 0.1), reading(at + change, 0.1)
    lost = (p1 + 1.01325) - (p2 + 1.01325) * (t1 + 273.15) / (t2 + 273.15)
    found = leak.hold(
        units.quantity(start, "bar"),
        units.quantity(start * kept, "bar"),
        Q("0.02 bar"),
        start_temperature=units.quantity(at, "°C"),
        end_temperature=units.quantity(at + change, "°C"),
        resolution=Q("0.001 bar"),
        temperature_resolution=Q("0.1 °C"),
    )
    assert found.uncertainty is not None
    assert units.express(found.lost, "bar") == pytest.approx(lost.nominal_value, abs=1e-9)
    assert units.express(found.uncertainty, "bar") == pytest.approx(lost.std_dev, rel=1e-6)


def test_leak_refuses() -> None:
    for start, end, allowed in (
        ("2 bar", "-2 bar", "1 mbar"),
        ("0 bar", "0 bar", "1 mbar"),
        ("2 bar", "1 bar", "-1 mbar"),
        ("2 mm", "1 bar", "1 mbar"),
    ):
        with pytest.raises(AssistantError):
            leak.hold(Q(start), Q(end), Q(allowed))
    with pytest.raises(AssistantError):
        leak.hold(Q("2 bar"), Q("1 bar"), Q("1 mbar"), start_temperature=Q("20 °C"))
    with pytest.raises(AssistantError):
        leak.hold(Q("2 bar"), Q("1 bar"), Q("1 mbar"), volume=Q("1 l"))
    with pytest.raises(AssistantError):
        leak.hold(Q("2 bar"), Q("1 bar"), Q("1 mbar"), atmosphere=Q("1 mbar"))


# --- fluids -----------------------------------------------------------------------------------


def test_mixing() -> None:
    # two-stroke mix: 5 l at 50:1 takes 100 ml, at 25:1 200 ml (common practice, no source)
    assert units.express(fluids.mix_into(Q("5 l"), "50:1").second, "ml") == pytest.approx(100)
    assert units.express(fluids.mix_into(Q("5 l"), "25 to 1").second, "ml") == pytest.approx(200)
    half = fluids.mix_total(Q("6 l"), "1:1")
    assert units.express(half.first, "l") == pytest.approx(3)
    for text in ("50", "0:1", "1:0", "a:b", "-5:1"):
        with pytest.raises(AssistantError):
            fluids.ratio(text)


@given(st.floats(0.01, 100), st.integers(1, 100), st.integers(1, 100))
def test_a_mixture_adds_up(total: float, a: int, b: int) -> None:
    mix = fluids.mix_total(units.quantity(total, "l"), f"{a}:{b}")
    assert units.express(mix.first + mix.second, "l") == pytest.approx(total)
    assert mix.first.magnitude / mix.second.magnitude == pytest.approx(a / b)


def test_drain_and_level() -> None:
    result = fluids.drain(Q("0.9 l"), Q("1.1 l"))
    assert not result.ok
    assert result.sentence().startswith("0.9 of 1.1 l came out")
    assert fluids.drain(Q("1000 ml"), Q("1.1 l")).ok
    assert not fluids.drain(Q("2 l"), Q("1.1 l")).ok
    assert units.express(fluids.to_level(Q("4 l"), 0.75, 0.25), "l") == pytest.approx(2)
    for work in (
        lambda: fluids.drain(Q("-1 l"), Q("1 l")),
        lambda: fluids.drain(Q("1 kg"), Q("1 l")),
        lambda: fluids.drain(Q("1 l"), Q("0 l")),
        lambda: fluids.drain(Q("1 l"), Q("1 l"), 1),
        lambda: fluids.drain(Q("1 l"), Q("1 l"), 10),
        lambda: fluids.drain(Q("1 l"), Q("1 l"), -0.1),
        lambda: fluids.to_level(Q("4 l"), 1.2),
        lambda: fluids.to_level(Q("4 l"), 0.2, 0.5),
        lambda: fluids.to_level(Q("4 l"), -0.1, -0.2),
        lambda: fluids.to_level(Q("4 l"), 0.5, -0.2),
        lambda: fluids.to_level(Q("4 l"), 1.3, 1.1),
    ):
        with pytest.raises(AssistantError):
            work()
