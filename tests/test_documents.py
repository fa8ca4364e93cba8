"""README and guides: their sizes, and that what they show is so.

Two kinds of fenced blocks are run. In a ``console`` block each line that begins with ``$ `` is a
command: it is parsed by the program's own parser, and run in a temporary folder unless it needs a
microphone, a server or a browser; a ``csv`` block is a file there, named in its info string. A
``dialogue`` block is typed at a real bench; the replies have to be those that are written there,
word for word, with … for anything. Its info string says where it happens: ``demo`` is somewhere in
the demo, any other name is a job from its first step, of a sample or of a procedure that the same
document shows.
"""

from __future__ import annotations

import io
import re
import shlex
from collections.abc import Iterator
from functools import cache
from pathlib import Path
from unicodedata import normalize

import pypdf
import pytest
from markdown_it import MarkdownIt

from assistant import resources
from assistant.cli import demo, main
from assistant.dialogue import live, lobby, lobby_words
from assistant.dialogue import state as job_state
from assistant.dialogue.commands import RULEBOOK
from assistant.dialogue.understanding import typed_words
from assistant.errors import AssistantError
from assistant.grammar import jsgf
from assistant.guide import guides, rendering
from assistant.procedure import lexicon, reading, reference, unwritten
from tests import snapshots
from tests.bench_helpers import SMALL, Hands
from tests.fixtures import every_state, state_of
from tests.report.whole_job import Page
from tests.web import browser

ROOT = Path(__file__).resolve().parents[1]
README = (ROOT / "README.md").read_text(encoding="utf-8")
DOCUMENTS = {"README": README, **{guide.name: guide.markdown for guide in guides.every()}}


def fenced(markdown: str, kind: str) -> Iterator[tuple[list[str], str]]:
    """Yield each fenced block of a kind: the rest of its info string, and its text."""
    for token in MarkdownIt().parse(markdown):
        info = token.info.split()
        if token.type == "fence" and info[:1] == [kind]:
            yield info[1:], token.content


def test_readme_and_developers_guide_are_short() -> None:
    assert len(README.encode()) < 10_000
    assert len((ROOT / "DEVELOPERS.md").read_bytes()) < 12_000


def test_the_readme_opens_with_the_job_in_one_paragraph() -> None:
    first = README.split("\n\n")[1]
    assert first.startswith("A workshop technician overhauls a machine")


def test_links_lead_to_files_that_are_there() -> None:
    folders = {"README": ROOT, "DEVELOPERS": ROOT}
    texts = DOCUMENTS | {"DEVELOPERS": (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")}
    for name, markdown in texts.items():
        folder = folders.get(name, ROOT / "assistant" / "guide")
        for target in re.findall(r"\]\((?!https?:|#)([^)#]+)", markdown):
            assert (folder / target).exists(), f"{name}: {target}"


def test_the_reference_of_keys_is_that_of_the_model() -> None:
    # Where this fails: python -m assistant.procedure.reference
    assert reference.PLACE.read_text(encoding="utf-8") == reference.markdown()


# Dialogues

Turns = list[tuple[str, str]]
"""What is said, and what the assistant says to it."""


def dialogues() -> list[tuple[str, str, str]]:
    return [
        (name, where[0], text)
        for name, markdown in DOCUMENTS.items()
        for where, text in fenced(markdown, "dialogue")
    ]


def written(text: str) -> Turns:
    lines = rendering.spoken_lines(text)
    assert [who for who, _ in lines] == ["technician", "assistant"] * (len(lines) // 2)
    return [(lines[i][1], lines[i + 1][1]) for i in range(0, len(lines), 2)]


def agrees(shown: str, said: str) -> bool:
    pattern = r"\s*.*\s*".join(re.escape(part.strip()) for part in shown.split("…"))
    return re.fullmatch(pattern, said) is not None


@pytest.fixture(scope="module")
def the_demo(tmp_path_factory: pytest.TempPathFactory) -> Turns:
    """The demo's whole dialogue, typed."""
    text = reading.load(reading.find(demo.PROCEDURE)).text
    hands = Hands(tmp_path_factory.mktemp("demo") / "journal.db", text)
    hands.technicians = demo.TECHNICIANS
    turns = []
    for part in demo.script():
        if isinstance(part, demo.Said):
            turns.append((part.text, hands.say(part.text)))
        elif part.stop:
            hands.stop_and_take_up(seconds=part.time.total_seconds())
        else:
            hands.wait(seconds=part.time.total_seconds())
    return turns


@pytest.mark.parametrize(("name", "where", "text"), dialogues())
def test_a_dialogue_is_what_the_bench_says(
    name: str, where: str, text: str, tmp_path: Path, the_demo: Turns
) -> None:
    wanted = written(text)
    if where == "demo":
        phrases = [phrase for phrase, _ in wanted]
        places = [
            the_demo[i : i + len(wanted)]
            for i in range(len(the_demo))
            if [phrase for phrase, _ in the_demo[i : i + len(wanted)]] == phrases
        ]
        assert places, "these phrases do not follow one another in the demo"
        fitting = max(places, key=lambda turns: matching(wanted, turns))
    else:
        hands = Hands(tmp_path / "journal.db", procedure_text(where, DOCUMENTS[name]))
        fitting = [(phrase, hands.say(phrase)) for phrase, _ in wanted]
    for (phrase, shown), (_, said) in zip(wanted, fitting, strict=True):
        assert agrees(shown, said), f"{phrase}\n  is written: {shown}\n  is said:    {said}"


def matching(wanted: Turns, turns: Turns) -> int:
    return sum(agrees(shown, said) for (_, shown), (_, said) in zip(wanted, turns, strict=True))


def procedure_text(name: str, markdown: str) -> str:
    if name == "unwritten":
        return unwritten.begin("Capstan drive", lexicon.read("gearbox"))[1]
    for _, text in fenced(markdown, "yaml"):
        if f"procedure: {name}\n" in text:
            return text
    return reading.load(reading.find(name)).text


def test_every_procedure_that_a_guide_shows_is_without_fault_or_warning(tmp_path: Path) -> None:
    shown = [text for _, text in fenced(DOCUMENTS["writing-procedures"], "yaml")]
    whole = [text for text in shown if text.startswith("procedure:")]
    assert whole
    for number, text in enumerate(whole):
        path = tmp_path / f"{number}.yaml"
        path.write_text(text, encoding="utf-8")
        assert reading.load(path).warnings == ()


# Commands


def commands(markdown: str) -> list[list[str]]:
    lines = [line for _, text in fenced(markdown, "console") for line in text.splitlines()]
    assert all(line.startswith("$ assistant ") for line in lines)
    return [shlex.split(line[2:], comments=True)[1:] for line in lines]


def needs_more_than_a_folder(words: list[str]) -> bool:
    """Whether a command needs a microphone, a loudspeaker, recordings, a browser, a server, or a
    job that is closed.
    """
    return (
        words[0] in ("listen", "devices", "board", "publish", "hear", "demo", "sign-off")
        or (words[0] in ("run", "resume") and "--typed" not in words)
        or "--display" in words
        or any("://" in word for word in words)
    )


@pytest.mark.parametrize("name", [name for name in DOCUMENTS if commands(DOCUMENTS[name])])
def test_commands_do_what_they_are_shown_for(
    name: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    for variable in ("XDG_DATA_HOME", "XDG_CONFIG_HOME", "HOME", "LOCALAPPDATA", "APPDATA"):
        monkeypatch.setenv(variable, str(tmp_path))
    monkeypatch.chdir(tmp_path)
    sample = reading.load(reading.find("winch-gearbox")).text
    Path("my-pump.yaml").write_text(sample, encoding="utf-8")
    snapshots.file(Path("race.jpg"))
    for (place, *_), text in fenced(DOCUMENTS[name], "csv"):
        Path(place).write_text(text, encoding="utf-8")
    typed = "affirm\nnext step\norder two drain plugs\ncirclip missing upper\nask customer\n"
    monkeypatch.setattr("sys.stdin", io.StringIO(typed))
    assert main.main(["run", "winch-gearbox", "--typed"]) == 0
    unwritten_job = (
        "affirm\nremoved six long bolts\nbag one\nstart build up\nnext step\nclose job\n"
    )
    monkeypatch.setattr("sys.stdin", io.StringIO(unwritten_job))
    assert main.main(["run", "--unwritten", "Capstan drive", "--typed"]) == 0
    for words in commands(DOCUMENTS[name]):
        if needs_more_than_a_folder(words):
            main._parser()[0].parse_args(words)
            continue
        monkeypatch.setattr("sys.stdin", io.StringIO("where are we\n"))
        capsys.readouterr()
        try:
            status = main.main(words)
        except SystemExit as left:  # --help
            status = int(left.code or 0)
        assert status == 0, f"assistant {shlex.join(words)}\n{capsys.readouterr().err}"


# What can be said


def phrases(markdown: str, column: int) -> list[str]:
    """Return the phrases of a document's tables; in a cell they are parted by a dot."""
    found = []
    for line in markdown.splitlines():
        cells = [cell.strip() for cell in line.strip("|").split("|")]
        if not line.startswith("|") or set(line) <= set("|- ") or cells[0] in ("say", "to"):
            continue
        found += [phrase.strip() for phrase in cells[column].split("·")]
    return found


@cache
def grammars() -> tuple[jsgf.Grammar, ...]:
    """What can be said at the steps of procedures, in answer to something, and between jobs."""
    small = reading.parse(SMALL, "small.yaml")
    states = [*every_state(), *(job_state.at_step(small, step.id) for step in small.steps)]
    asked = [state_of("winch-gearbox/land-load", of) for of in ("reason", "stand by", "names")]
    checking = state_of("winch-gearbox/land-load", "kit")
    between_jobs = lobby.Lobby((lobby.OpenJob(7, "a job"),), (("winch gearbox",),), ("Ann", "Bo"))
    return (
        *map(live.grammar_for, [*states, *asked, checking]),
        lobby_words.grammar(between_jobs),
    )


def rules_of(phrase: str) -> set[str]:
    """Return the commands that a phrase is, in whatever state; … stands for any speech."""
    words = typed_words(phrase.replace("…", ""))
    words += (jsgf.GARBAGE,) if phrase.endswith("…") else ()
    trees = [tree for grammar in grammars() if (tree := grammar.parse_first(words)) is not None]
    return {node.rule for tree in trees for node in tree.children if isinstance(node, jsgf.Node)}


@pytest.mark.parametrize(
    ("name", "column", "phrase"),
    [("card", 0, phrase) for phrase in phrases(guides.read("card").markdown, 0)]
    + [("README", 1, p) for p in phrases(README.split("## Using it")[0], 1)],
)
def test_what_is_said_to_be_understood_is(name: str, column: int, phrase: str) -> None:
    assert rules_of(phrase)


def test_every_command_is_on_the_card() -> None:
    on_it = {rule for p in phrases(guides.read("card").markdown, 0) for rule in rules_of(p)}
    lobby_file = (resources.folder("grammars") / "lobby.gram").read_text(encoding="utf-8")
    between_jobs = re.search(r"public <command> = ([^;]+);", lobby_file)
    assert between_jobs is not None
    every = RULEBOOK.by_rule.keys() | set(re.findall(r"<(\w+)>", between_jobs[1]))
    # A value, or the name of a procedure or of a reading, by itself only answers what was asked.
    assert every - on_it == {"again", "bare_value", "procedure_named", "which"}


# How the guides are shown


def test_a_guide_is_found_by_a_part_of_its_name() -> None:
    assert guides.find("bench").name == "at-the-bench"
    assert guides.find("The computer").name == "the-computer"
    with pytest.raises(AssistantError, match="Did you mean writing-procedures or procedure-keys"):
        guides.find("procedure")
    with pytest.raises(AssistantError, match="Did you mean card"):
        guides.find("crad")


@pytest.mark.parametrize("guide", guides.every(), ids=lambda guide: guide.name)
def test_a_guide_is_shown_whole_in_a_terminal_and_as_a_page(guide: guides.Guide) -> None:
    text = rendering.text(guide, 80)
    assert max(map(len, text.splitlines())) <= 80
    page = Page(rendering.page(guide))
    titles = [line[3:] for line in guide.markdown.splitlines() if line.startswith("## ")]
    assert titles
    for title in titles:
        assert title in text and title in page.text
    # It stands alone: nothing is fetched, and no link leads to a file that is not there.
    assert not any(page.all(tag) for tag in ("img", "script", "link"))
    assert all((link["href"] or "").startswith("https://") for link in page.all("a"))


def test_the_command_lists_shows_and_writes_guides(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main.main(["guide"]) == 0
    listed = capsys.readouterr().out.splitlines()
    assert [line for line in listed if not line.startswith(" ")] == list(guides.NAMES)
    assert main.main(["guide", "card"]) == 0
    assert "start drain timer five minutes" in capsys.readouterr().out
    out = tmp_path / "card.html"
    assert main.main(["guide", "card", "-o", str(out)]) == 0
    assert out.read_text(encoding="utf-8") == rendering.page(guides.read("card"))
    assert main.main(["guide", "card", "-o", str(tmp_path / "no" / "card.html")]) == 2


@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_the_card_prints_on_one_page(paper: str, tmp_path: Path) -> None:
    with browser.chromium() as running, browser.page(running) as page:
        page.set_content(rendering.page(guides.read("card")))
        page.pdf(path=tmp_path / "card.pdf", format=paper)
    (only,) = pypdf.PdfReader(tmp_path / "card.pdf").pages
    text = " ".join(normalize("NFKC", only.extract_text()).split())  # without ligatures
    for phrase in phrases(guides.read("card").markdown, 0):
        assert normalize("NFKC", phrase) in text
