"""The chain: what is hashed, and what each kind of tampering with it looks like."""

import hashlib
from datetime import UTC, datetime

import pytest
import rfc8785
from hypothesis import given
from hypothesis import strategies as s

from assistant.dialogue import events
from assistant.errors import AssistantError
from assistant.journal import chain
from assistant.journal.chain import Link

UID = "5a0c5f0e-6d3c-4b1e-9f57-2f5a3e0f9a11"
BODIES = tuple(f'{{"kind":"note","text":"{n}"}}' for n in range(1, 7))


def good() -> list[Link]:
    return list(chain.links(UID, 1, chain.START, BODIES))


def test_a_hash_is_that_of_the_canonical_json_of_the_four_members() -> None:
    event = {"kind": "note", "text": "Öl", "n": 1.5, "at": None}
    whole = {"job": UID, "place": 3, "previous": "ab" * 32, "event": event}
    expected = hashlib.sha256(rfc8785.dumps(whole)).hexdigest()
    assert chain.digest(UID, 3, "ab" * 32, chain.canonical(event)) == expected


def test_canonical_json_is_that_of_the_standard() -> None:
    # RFC 8785, 3.2.2 and 3.2.3: the sample and its serialisation.
    value = {
        "numbers": [333333333.33333329, 1e30, 4.50, 2e-3, 0.000000000000000000000000001],
        "string": "\u20ac$\u000f\u000aA'\u0042\u0022\u005c\\\"\u002f",
        "literals": [None, True, False],
    }
    assert chain.canonical(value) == (
        '{"literals":[null,true,false],"numbers":[333333333.3333333,1e+30,4.5,0.002,1e-27],'
        '"string":"€$\\u000f\\nA\'B\\"\\\\\\\\\\"/"}'
    )


@given(s.floats(min_value=0, max_value=1))
def test_a_confidence_is_the_same_after_a_round_trip(confidence: float) -> None:
    heard = events.Heard(words="affirm", confidence=confidence, recogniser="test")
    event = events.Resumed(at=datetime(2031, 1, 1, tzinfo=UTC), turn=1, heard=heard)
    body = chain.canonical(event.model_dump(mode="json"))
    again = events.EVENT.validate_json(body)
    assert again == event
    assert chain.canonical(again.model_dump(mode="json")) == body


@pytest.mark.parametrize("value", [2**60, float("nan"), "\ud800"])
def test_what_json_cannot_carry_is_refused(value: object) -> None:
    with pytest.raises(AssistantError, match="cannot be written down exactly"):
        chain.canonical({"value": value})


def test_a_chain_as_made_is_good() -> None:
    assert chain.verify(UID, good()) is None
    assert chain.verify(UID, good()[:3]) is None  # An end that is missing shows elsewhere.


def _renumbered(links: list[Link]) -> list[Link]:
    return [Link(n, link.previous, link.hash, link.body) for n, link in enumerate(links, 1)]


def _linked_anew(links: list[Link], at: int) -> list[Link]:
    """Make one event's own hash good again, at its place and after what stands before it."""
    before = links[at - 2].hash if at > 1 else chain.START
    body = links[at - 1].body
    links[at - 1] = Link(at, before, chain.digest(UID, at, before, body), body)
    return links


OTHER = '{"kind":"note","text":"forged"}'


def _altered(links: list[Link]) -> list[Link]:
    links[2] = Link(3, links[2].previous, links[2].hash, OTHER)
    return links


def _altered_and_hashed(links: list[Link]) -> list[Link]:
    return _linked_anew(_altered(links), 3)


def _one_byte(links: list[Link]) -> list[Link]:
    links[2] = Link(3, links[2].previous, links[2].hash, links[2].body.replace(":", ": "))
    return links


def _hash_altered(links: list[Link]) -> list[Link]:
    links[2] = Link(3, links[2].previous, "0" * 64, links[2].body)
    return links


def _missing(links: list[Link]) -> list[Link]:
    return links[:2] + links[3:]


def _missing_renumbered(links: list[Link]) -> list[Link]:
    return _renumbered(links[:2] + links[3:])


def _first_missing(links: list[Link]) -> list[Link]:
    return _renumbered(links[1:])


def _swapped(links: list[Link]) -> list[Link]:
    links[2], links[3] = links[3], links[2]
    return _renumbered(links)


def _bodies_swapped(links: list[Link]) -> list[Link]:
    third, fourth = links[2], links[3]
    links[2] = Link(3, third.previous, third.hash, fourth.body)
    links[3] = Link(4, fourth.previous, fourth.hash, third.body)
    return links


def _moved_to_the_end(links: list[Link]) -> list[Link]:
    return _renumbered([*links[:2], *links[3:], links[2]])


def _inserted(links: list[Link]) -> list[Link]:
    return _renumbered([*links[:2], Link(0, links[1].hash, "ab" * 32, OTHER), *links[2:]])


def _inserted_and_hashed(links: list[Link]) -> list[Link]:
    return _linked_anew(_inserted(links), 3)


def _doubled(links: list[Link]) -> list[Link]:
    return links[:3] + links[2:]


@pytest.mark.parametrize(
    ("tamper", "kind", "place"),
    [
        (_altered, "altered", 3),
        (_altered_and_hashed, "altered", 3),
        (_one_byte, "altered", 3),
        (_hash_altered, "altered", 3),
        (_missing, "missing", 3),
        (_missing_renumbered, "missing", 3),
        (_first_missing, "missing", 1),
        (_swapped, "reordered", 3),
        (_bodies_swapped, "reordered", 3),
        (_moved_to_the_end, "reordered", 3),
        (_inserted, "inserted", 3),
        (_inserted_and_hashed, "inserted", 3),
        (_doubled, "inserted", 3),
        (lambda links: [], "missing", 1),
    ],
)
def test_the_first_fault_is_named_with_its_kind_and_place(
    tamper: object, kind: str, place: int
) -> None:
    assert callable(tamper)
    fault = chain.verify(UID, tamper(good()))
    assert fault is not None
    assert (fault.kind, fault.place) == (kind, place)


def test_a_job_under_another_uid_is_not_the_job() -> None:
    assert chain.verify(UID.replace("5a", "5b"), good()) is not None


@given(s.integers(0, 5), s.integers(0, 200), s.integers(0, 255))
def test_no_changed_byte_goes_unseen(event: int, at: int, byte: int) -> None:
    links = good()
    body = links[event].body.encode("latin-1")
    at %= len(body)
    changed = (body[:at] + bytes([byte]) + body[at + 1 :]).decode("latin-1")
    links[event] = Link(event + 1, links[event].previous, links[event].hash, changed)
    assert (chain.verify(UID, links) is None) == (changed == good()[event].body)
