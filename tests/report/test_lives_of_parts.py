"""The record's lists of parts agree with one another and with what was said at the bench."""

from pathlib import Path

from assistant.report import page, record
from tests.bench_helpers import Hands
from tests.dialogue.test_parts import PUMP, STRIP


def test_fitted_orders_and_lives_agree(tmp_path: Path) -> None:
    hands = Hands(tmp_path / "a.db", PUMP)
    hands.say("impeller cracked renew", "plate screw missing", *STRIP)
    hands.say("next step", "order impeller", "next step")

    def built() -> record.Record:
        return record.build(hands.bench.journal.events(1), hands.procedure, 1)

    # Held: neither the old impeller nor the one that is to come is listed as fitted.
    hands.say("next step")
    assert "impeller" not in {one.part for one in built().fitted}
    lives = {one.part: one.life for one in built().parts}
    assert lives["impeller"] == "1 condemned; 1 asked"
    assert lives["plate screw"] == "3 off, bag 1; 1 missing"
    hands.say("impeller received", "next step", "order plate screw", "plate screw received")
    hands.say("next step")
    now = built()
    fitted = [(one.part, one.count, one.new, one.bag) for one in now.fitted]
    assert ("impeller", 1, True, None) in fitted and ("white shim", 1, True, None) in fitted
    assert ("plate screw", 3, False, 1) in fitted and ("plate screw", 1, True, None) in fitted
    lives = {one.part: one.life for one in now.parts}
    assert lives["impeller"] == "1 condemned; 1 fitted new at step 5"
    assert [one.size for one in now.parts if one.part == "plate screw"] == ["M5 × 12 mm"]
    assert [(order.fitted, order.received) for order in now.orders] == [(1, 0), (1, 0)]
    assert not any(order.installed_unsaid for order in now.orders)
    assert "Where each part is" in page.html(now, {})
