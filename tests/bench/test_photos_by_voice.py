"""Photos by voice: taken, kept with what was said last, and true whatever goes wrong."""

from __future__ import annotations

from hashlib import sha256
from pathlib import Path

import pytest

from assistant.audio.cue import Cue
from assistant.bench.photographer import Photographer
from assistant.desk import photos as at_the_computer
from assistant.dialogue import events, photos
from assistant.dialogue.withdrawal import what_stands
from assistant.imaging.pictures import kept
from assistant.journal import schema, verification
from assistant.journal.store import CannotRecord, Journal
from tests import snapshots
from tests.bench_helpers import Hands


@pytest.fixture
def hands(tmp_path: Path) -> Hands:
    hands = Hands(tmp_path / "journal.db")
    hands.with_camera(snapshots.Still())
    hands.say("affirm")
    return hands


def taken(hands: Hands) -> list[events.PictureTaken]:
    """Return the photos that are on disk, each seen to be there with its own picture."""
    journal, job = hands.bench.journal, hands.bench.job
    found = []
    for event in journal.events(job):
        if isinstance(event, events.PictureTaken):
            jpeg = journal.picture(job, event.sha256)
            assert jpeg is not None and sha256(jpeg).hexdigest() == event.sha256
            found.append(event)
    assert verification.job(journal, job).fault is None
    return found


def shown_with(hands: Hands) -> list[str]:
    """Return the kinds of events that have photos, and what they tell."""
    history = hands.bench.journal.events(hands.bench.job)
    found = photos.shown_with(history)
    return [
        getattr(event, "condition", None) or event.kind for event in history if id(event) in found
    ]


@pytest.mark.parametrize("words", ["photo", "take a photo"])
def test_a_photo_is_kept_with_the_finding_said_last(hands: Hands, words: str) -> None:
    hands.say("drain plug worn", "circlip missing upper")
    assert hands.say(words) == "Photo kept, with circlip missing, upper."
    assert hands.notes.cues[-1] is Cue.RECORDED
    (photo,) = taken(hands)
    assert (photo.width, photo.height, photo.media_type) == (48, 32, "image/jpeg")
    assert (photo.step, photo.by, photo.at_desk) == ("open", "sam", False)
    assert photo.heard is not None and photo.heard.words == words
    assert shown_with(hands) == ["missing"]
    assert "A photo." in hands.say("read back")


@pytest.mark.parametrize(
    ("said", "told"),
    [
        ("note the paint is old", "with note: the paint is old"),
        ("order two drain plugs", "with order two drain plugs"),
        ("bag one", "with bag one"),
    ],
)
def test_it_goes_with_notes_and_parts_too(hands: Hands, said: str, told: str) -> None:
    hands.say("circlip missing", said)
    assert told in hands.say("photo")
    assert len(taken(hands)) == 1


def test_said_before_anything_else_it_is_of_nothing(hands: Hands) -> None:
    assert hands.say("photo").startswith("Nothing was said at this step for a photo to go with.")
    assert hands.bench.photographer.camera.taken == 0  # type: ignore[union-attr]
    assert taken(hands) == []
    assert hands.say("disregard") != "", "nothing of it is there to take back"


def test_said_at_another_step_it_is_of_what_was_said_there(hands: Hands) -> None:
    hands.say("circlip missing", "bag one", "next step")
    assert "Nothing was said at this step" in hands.say("photo")
    hands.say("drain plug worn")
    assert hands.say("photo") == "Photo kept, with drain plug worn."
    hands.say("previous step")
    assert hands.say("photo") == "Photo kept, with bag one."
    assert shown_with(hands) == ["bag recorded", "worn"]


def test_said_again_it_takes_another(hands: Hands) -> None:
    hands.with_camera(snapshots.Still("red", "blue", "blue"))
    hands.say("circlip missing", "photo", "photo", "photo")
    found = taken(hands)
    assert len({photo.sha256 for photo in found}) == 2 and len(found) == 3
    assert len(list(hands.bench.journal.pictures(1))) == 2, "the same picture is kept once"


def test_disregard_takes_the_photo_back_and_then_the_finding(hands: Hands) -> None:
    hands.say("circlip missing", "photo")
    assert hands.say("disregard").startswith("Disregarded: a photo.")
    assert shown_with(hands) == []
    assert len(taken(hands)) == 1, "nothing is removed"
    assert "circlip" in hands.say("disregard")
    assert "Nothing was said at this step" in hands.say("photo")


def test_a_photo_of_what_is_corrected_goes_with_what_stands(hands: Hands) -> None:
    hands.say("circlip missing", "photo", "correction circlip worn")
    assert shown_with(hands) == ["worn"]
    hands.say("correction circlip bent")
    assert shown_with(hands) == ["bent"]
    hands.say("disregard")
    assert shown_with(hands) == ["worn"]
    hands.say("disregard")
    assert shown_with(hands) == ["missing"]
    # The photo itself was said before the corrections: now it is the last.
    assert hands.say("disregard").startswith("Disregarded: a photo.")
    assert shown_with(hands) == []


def test_a_photo_of_what_is_withdrawn_still_goes_with_that(hands: Hands) -> None:
    hands.say("circlip missing", "photo", "drain plug worn")
    at_the_computer.enter(hands.bench.journal, 1, kept(snapshots.image("green")), by="kim")
    hands.wait(seconds=1)
    hands.say("disregard")
    assert shown_with(hands) == ["missing", "worn"]
    assert hands.say("photo") == "Photo kept, with circlip missing."


def test_days_later_it_goes_with_what_was_said_at_the_step(hands: Hands) -> None:
    hands.say("circlip missing")
    hands.stop_and_take_up(days=4)
    assert hands.say("photo") == "Photo kept, with circlip missing."
    before = hands.bench.state
    hands.stop_and_take_up(days=1)
    assert hands.bench.state.history[:-1] == before.history
    assert hands.say("disregard").startswith("Disregarded: a photo.")


def test_without_a_camera_what_to_do_is_told_once(tmp_path: Path) -> None:
    hands = Hands(tmp_path / "journal.db")
    hands.say("affirm", "circlip missing")
    first = hands.say("photo")
    assert first.startswith("There is no camera. Nothing recorded. Take the picture with a")
    assert hands.notes.cues[-1] is Cue.REFUSED
    assert hands.say("photo") == "There is no camera. Nothing recorded."
    assert taken(hands) == []


def test_a_camera_that_fails_says_so_and_nothing_is_recorded(hands: Hands) -> None:
    hands.with_camera(snapshots.Broken())
    hands.say("circlip missing")
    before = hands.bench.journal.events(1)
    told = hands.say("photo")
    assert told.startswith("The camera cannot be opened. Nothing recorded. Look at its cable")
    assert hands.bench.journal.events(1) == before
    assert list(hands.bench.journal.pictures(1)) == []
    hands.with_camera(snapshots.Still())
    assert hands.say("photo") == "Photo kept, with circlip missing."


def test_a_disk_that_fails_is_told_and_neither_picture_nor_event_is_there(
    hands: Hands, monkeypatch: pytest.MonkeyPatch
) -> None:
    hands.say("circlip missing")

    def fail(*about: object) -> None:
        raise CannotRecord("I cannot record: the disk is full.", "full")

    with monkeypatch.context() as patched:
        patched.setattr(schema, "insert", fail)
        assert "I cannot record" in hands.say("photo")
        assert "kept" not in " ".join(hands.notes.replies)
    assert taken(hands) == []
    assert list(hands.bench.journal.pictures(1)) == []
    assert hands.say("photo") == "Photo kept, with circlip missing."


def test_it_is_said_to_be_kept_only_when_it_is_on_disk(hands: Hands) -> None:
    seen = []

    def saying(text: str) -> None:
        if "Photo kept" in text:
            journal = Journal(hands.path)
            seen.append((journal.events(1)[-1].kind, len(list(journal.pictures(1)))))

    hands.say("circlip missing")
    hands.notes.on_saying = saying
    hands.say("photo")
    assert seen == [("picture taken", 1)]


def test_what_is_entered_while_the_camera_is_busy_is_not_lost(hands: Hands) -> None:
    camera = snapshots.Still()
    hands.with_camera(camera)
    hands.say("circlip missing")
    other = Journal(hands.path)
    camera.on_taking = lambda: (
        camera.taken or at_the_computer.enter(other, 1, kept(snapshots.image("green")), by="kim")
    )
    told = hands.say("photo")
    assert "Nothing was kept. Say it again." in told
    assert [photo.at_desk for photo in taken(hands)] == [True]
    assert hands.say("photo") == "Photo kept, with circlip missing."


def test_an_answer_that_is_waited_for_comes_first(hands: Hands) -> None:
    hands.say("circlip missing", "order nine drain plugs")
    asked = hands.say("photo")
    assert "Photo" not in asked and "affirm" in asked.lower()
    assert taken(hands) == []
    hands.say("negative", "skip step")
    hands.say("photo")
    assert taken(hands) == []
    hands.say("negative", "stand by")
    assert hands.say("photo") == ""
    hands.say("resume", "note", "photo")
    assert taken(hands) == [], "while a note is taken it is the note"
    hands.say("close job", "affirm")
    assert hands.say("photo") == "This job is closed. Nothing more is recorded."


def test_a_photo_put_in_at_the_computer_is_told_at_the_bench(hands: Hands) -> None:
    hands.say("circlip missing", "order nine drain plugs")
    pending = hands.bench.state.pending
    assert pending is not None
    photo = kept(snapshots.image("green"))
    at_the_computer.enter(hands.bench.journal, 1, photo, by="kim")
    assert hands.wait(seconds=1) == "One photo added at the computer."
    assert hands.bench.state.pending == pending, "the question is still open"
    number = len(hands.bench.journal.events(1))
    at_the_computer.withdraw(hands.bench.journal, 1, number, by="kim")
    assert hands.wait(seconds=1) == "One photo withdrawn at the computer."
    assert hands.bench.state.pending == pending
    assert hands.say("negative") != ""
    hands.stop_and_take_up(hours=1)
    assert shown_with(hands) == []
    assert not any(
        isinstance(e, events.PictureTaken) for e in what_stands(hands.bench.journal.events(1))
    )


def test_disregard_passes_over_what_was_put_in_at_the_computer(hands: Hands) -> None:
    hands.say("circlip missing")
    at_the_computer.enter(hands.bench.journal, 1, kept(snapshots.image("green")))
    hands.wait(seconds=1)
    assert "circlip missing" in hands.say("disregard")
    assert len(shown_with(hands)) == 1


def test_a_camera_is_not_opened_but_for_a_photo(hands: Hands) -> None:
    hands.say("circlip missing", "bag one", "next step")
    assert hands.bench.photographer.camera.taken == 0  # type: ignore[union-attr]
    assert Photographer().camera is None
