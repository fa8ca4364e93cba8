"""The command line, as a user runs it: in a process of its own."""

import csv
import io
import json
import subprocess
import sys
from pathlib import Path

import pytest

from assistant.cli.main import main
from tests.bench_helpers import SMALL, Hands
from tests.fixtures import AUDIO


def assistant(*arguments: object, typed: str = "") -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-m", "assistant", *map(str, arguments)],
        input=typed,
        capture_output=True,
        text=True,
        timeout=120,
    )


@pytest.fixture
def small(tmp_path: Path) -> Path:
    path = tmp_path / "small.yaml"
    path.write_text(SMALL, encoding="utf-8")
    return path


def test_help_names_every_command_and_each_has_its_own() -> None:
    told = assistant("--help")
    assert told.returncode == 0
    for command in (
        *("run", "resume", "demo", "jobs", "log", "report", "hear", "say", "check", "samples"),
        *("sum", "verify", "export", "import", "listen", "orders", "new", "preview"),
    ):
        assert f"    {command} " in told.stdout
        assert assistant(command, "--help").returncode == 0


def test_a_typed_shift_from_job_to_job(tmp_path: Path, small: Path) -> None:
    shift = assistant(
        *("listen", "--typed", "--journal", tmp_path / "shop.db", "--procedures", small.parent),
        typed="new job\naffirm\naffirm\nbag 1\nset job aside\nopen job 1\nclose job\naffirm\n",
    )
    assert shift.returncode == 0
    assert "New job, small. Affirm?" in shift.stdout
    assert "Work stopped just now" in shift.stdout
    assert shift.stdout.rstrip().endswith("No job is open. Say new job.")


def test_a_job_that_is_set_aside_ends_a_run_and_stays_open(tmp_path: Path, small: Path) -> None:
    run = assistant(
        *("run", small, "--typed", "--journal", tmp_path / "shop.db"),
        typed="affirm\nset job aside\nbag 1\n",
    )
    assert "Job set aside. It stays open." in run.stdout
    assert "Recorded" not in run.stdout and "assistant resume 1" in run.stderr


def test_a_typed_job_from_start_to_report(tmp_path: Path, small: Path) -> None:
    journal = tmp_path / "shop.db"
    begun = assistant(
        *("run", small, "--typed", "--journal", journal, "--by", "sam", "--unit", "no. 7"),
        typed="affirm\nbag 1\norder two drain plugs\ncirclip missing upper\nnext step\n",
    )
    assert begun.returncode == 0
    assert "Bag one. Recorded." in begun.stdout
    assert "assistant resume 1" in begun.stderr

    jobs = json.loads(assistant("jobs", "--journal", journal, "--json").stdout)
    assert (jobs["job"], jobs["step"], jobs["closed"], jobs["unit"]) == (1, "which", False, "no. 7")

    gone_on = assistant(
        "resume", "--typed", "--journal", journal, typed="splined shaft\nclose job\naffirm\n"
    )
    assert "Work stopped" in gone_on.stdout
    assert "Job closed." in gone_on.stdout
    assert "no open job" in assistant("resume", "--typed", "--journal", journal).stderr

    events = [
        json.loads(line)
        for line in assistant("log", 1, "--journal", journal, "--json").stdout.splitlines()
    ]
    kinds = [event["kind"] for event in events]
    assert kinds[0] == "job opened"
    assert kinds[-1] == "job closed"
    assert {"bag recorded", "part ordered", "finding", "job taken up"} <= set(kinds)
    assert all(event["at"].count(":") >= 2 and "turn" in event for event in events)
    assert "circlip missing" in assistant("log", 1, "--journal", journal).stdout.lower()

    page = tmp_path / "job.html"
    assert assistant("report", 1, "-o", page, "--journal", journal).returncode == 0
    html = page.read_text(encoding="utf-8")
    assert "<html" in html
    assert "circlip" in html
    record = json.loads(assistant("report", 1, "--json", "--journal", journal).stdout)
    assert "drain plug" in json.dumps(record)
    rows = list(
        csv.reader(io.StringIO(assistant("report", 1, "--csv", "--journal", journal).stdout))
    )
    assert any("drain plug" in cell for row in rows for cell in row)


def test_a_job_from_recordings(tmp_path: Path) -> None:
    journal = tmp_path / "shop.db"
    told = assistant(
        *("run", "winch-gearbox", "--silent", "--journal", journal),
        *("--recogniser", "pocketsphinx"),
        *("--from", AUDIO / "demo" / "001.flac", AUDIO / "demo" / "002.flac"),
    )
    assert told.returncode == 0, told.stderr
    assert "technician: affirm" in told.stdout
    assert "technician: go to step six" in told.stdout
    assert "Step six has to wait for step one" in " ".join(told.stdout.split())
    heard = [
        json.loads(line)["heard"]
        for line in assistant("log", 1, "--journal", journal, "--json").stdout.splitlines()
    ]
    said = [h for h in heard if h]
    assert said[0]["words"] == "affirm"
    assert said[0]["recogniser"] == "pocketsphinx and whisper"
    assert 0.5 <= said[0]["confidence"] <= 1


def test_hear_gives_the_keys_that_were_agreed() -> None:
    told = assistant(
        *("hear", "--procedure", "winch-gearbox", "--step", "fit-top-cover"),
        *("--recogniser", "pocketsphinx", "--json", AUDIO / "commands" / "rms" / "021.flac"),
    )
    assert told.returncode == 0, told.stderr
    line = json.loads(told.stdout)
    assert set(line) == {"file", "words", "accepted", "confidence", "audio_s", "took_s", "intent"}
    assert line["words"] == "tightened one four"
    assert line["intent"] == {"intent": "Tightened", "value": "14"}


def test_hear_takes_any_grammar(tmp_path: Path) -> None:
    grammar = tmp_path / "kitchen.gram"
    grammar.write_text(
        "#JSGF V1.0;\ngrammar kitchen;\n"
        "public <order> = (affirm | negative) /* one */ | <tea> + {tea};\n<tea> = black tea;\n"
    )
    file = AUDIO / "demo" / "001.flac"
    told = assistant("hear", "--grammar", grammar, "--recogniser", "pocketsphinx", "--json", file)
    line = json.loads(told.stdout)
    assert (line["words"], line["accepted"]) == ("affirm", True)
    assert "intent" not in line


@pytest.mark.parametrize(
    ("arguments", "expected"),
    [
        (["run", "no-such"], "winch-gearbox"),
        (["resume", "9", "--typed", "--journal", "{}/new.db"], "There is no journal"),
        (["report", "9", "--journal", "{}/new.db"], "There is no journal"),
        (["hear", "x.wav"], "--grammar"),
        (["hear", "--step", "a", "--grammar", "b", "x.wav"], "--step goes with --procedure"),
        (["hear", "--grammar", "{}/none.gram", "x.wav"], "none.gram"),
        (["hear", "--procedure", "pump-rebuild", "--step", "a", "x.wav"], "measure-shaft"),
        (["run", "pump-rebuild", "--recogniser", "vosk", "--model", "/tmp"], "/tmp"),
        (["say", "a", "-o", "{}/no/such.wav"], "folder"),
        (["check", "{}/none.yaml"], "none.yaml"),
        (["log", "1", "--journal", "/proc/none/j.db"], "/proc/none/j.db"),
    ],
)
def test_errors_are_one_plain_sentence(arguments: list[str], expected: str, tmp_path: Path) -> None:
    told = assistant(*(a.replace("{}", str(tmp_path)) for a in arguments))
    assert told.returncode == 2
    assert expected in told.stderr
    assert "Traceback" not in told.stderr


def test_a_file_that_cannot_be_heard_does_not_stop_the_others(tmp_path: Path) -> None:
    (tmp_path / "words.wav").write_text("this is no sound")
    told = assistant(
        *("hear", "--procedure", "winch-gearbox", "--recogniser", "pocketsphinx", "--json"),
        *(tmp_path / "words.wav", AUDIO / "demo" / "001.flac"),
    )
    assert told.returncode == 1
    assert "words.wav" in told.stderr
    assert json.loads(told.stdout)["words"] == "affirm"


def test_without_a_microphone_it_says_what_to_do(tmp_path: Path) -> None:
    told = assistant("run", "pump-rebuild", "--silent", "--journal", tmp_path / "j.db")
    if told.returncode == 0:
        pytest.skip("this machine has a microphone")
    assert "--typed" in told.stderr
    assert "Traceback" not in told.stderr
    # No job is begun for want of a microphone to be noticed.
    assert not (tmp_path / "j.db").exists()


def test_check_prints_file_and_line(tmp_path: Path) -> None:
    bad = tmp_path / "bad.yaml"
    bad.write_text(SMALL.replace("torque: 14 N·m", "torqe: 14 N·m"), encoding="utf-8")
    told = assistant("check", bad, "pump-rebuild")
    assert told.returncode == 2
    assert f"{bad}:56: " in told.stderr
    assert "pump-rebuild: good" in told.stdout


@pytest.mark.parametrize(
    ("arguments", "meant"),
    [
        (["reprot", "1"], "There is no command reprot. Did you mean report?"),
        (["xyzzy"], "There is no command xyzzy. List them with: assistant --help"),
        (["run", "winch-gearbx", "--typed"], "Did you mean winch-gearbox?"),
        (["check", "pump_rebuild"], "Did you mean pump-rebuild?"),
        (["log", "11", "--journal", "{}/shop.db"], "Did you mean 1?"),
    ],
)
def test_a_wrong_name_is_answered_with_the_one_that_may_be_meant(
    arguments: list[str],
    meant: str,
    tmp_path: Path,
    small: Path,
    capsys: pytest.CaptureFixture[str],
) -> None:
    Hands(tmp_path / "shop.db").bench.journal.close()
    assert main([word.replace("{}", str(tmp_path)) for word in arguments]) == 2
    said = capsys.readouterr()
    assert meant in said.err
    assert said.out == ""


def test_a_message_is_one_plain_line_however_often_the_program_is_begun(
    capsys: pytest.CaptureFixture[str],
) -> None:
    for _ in range(3):
        assert main(["no\x1b[2Jne"]) == 2
    lines = capsys.readouterr().err.splitlines()
    assert len(lines) == 3
    assert {line.split(".")[0] for line in lines} == {"There is no command no[2Jne"}


def test_help_imports_nothing_heavy() -> None:
    """It has to be there at once: what takes long is imported when a command runs."""
    code = (
        "import sys; from assistant.cli.main import main\n"
        "try: main(['--help'])\nexcept SystemExit: pass\n"
        "heavy = {'numpy', 'pydantic', 'sqlite3', 'jinja2', 'rapidfuzz', 'pint', 'sqlalchemy'}\n"
        "print('imported:', *sorted(heavy & set(sys.modules)))"
    )
    told = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert told.stdout.splitlines()[-1] == "imported:"


def test_open_jobs_alone(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    for phrases in (("close job", "affirm"), ("bag one",)):
        hands = Hands(tmp_path / "shop.db")
        hands.say("affirm", *phrases)
        hands.bench.journal.close()
    where = ["--journal", str(tmp_path / "shop.db")]
    assert main(["jobs", "--open", *where]) == 0
    (line,) = capsys.readouterr().out.splitlines()
    assert line.startswith("    2  ")
