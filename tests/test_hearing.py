"""The project's own recordings through the real recogniser, with the grammar live at each step."""

import json
from collections import Counter

from assistant import listening
from assistant.audio import pcm
from assistant.audio.recogniser import hear_all
from assistant.language import live, understanding
from assistant.session import intents as it
from tests.fixtures import AUDIO, state_of, utterances


def test_at_least_98_in_100_commands_are_understood() -> None:
    ears = listening.ears("pocketsphinx", None, None, {})
    rows = utterances()
    assert len(rows) >= 200
    assert len({row["voice"] for row in rows}) >= 4
    right: Counter[str] = Counter()
    wrong = []
    for row in rows:
        state = state_of(row["step"], row["asked"])
        ears.listen_for(live.grammar_for(state))
        hearing = hear_all(ears, pcm.read(AUDIO / row["file"]))
        intent = understanding.understand(hearing.words, state) if hearing.accepted else None
        if intent is not None and it.as_dict(intent) == json.loads(row["intent"]):
            right[row["voice"]] += 1
        else:
            wrong.append((row["voice"], row["text"], hearing.words))
    assert right.total() / len(rows) >= 0.98, wrong
