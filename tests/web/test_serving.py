"""Addresses, ports, links and tokens, and one clear sentence for each that will not do."""

import io
import re
import socket
import sys
from pathlib import Path

import pytest

from assistant.cli.main import main
from assistant.errors import AssistantError
from assistant.journal.store import Journal
from assistant.web import serving
from assistant.web.serving import Opening


def test_loopback_needs_no_token() -> None:
    served = serving.claim(Opening("127.0.0.1:0"), token="x")
    with served.socket:
        port = served.socket.getsockname()[1]
        assert served.link == f"http://127.0.0.1:{port}/"
        assert served.who.token is None and served.who.names == {"localhost"}


def test_the_network_needs_one_and_the_computers_own_names_do(
    capsys: pytest.CaptureFixture[str],
) -> None:
    served = serving.claim(Opening("0.0.0.0:0", True, ("Bench.Shop",)))
    with served.socket:
        token = served.who.token
        assert token is not None and len(token) >= 32
        assert served.link.endswith(f"/?token={token}") and "0.0.0.0" not in served.link
        assert {"bench.shop", socket.gethostname().lower()} <= served.who.names
        serving.announce(served, "Display")
        told = capsys.readouterr().err
        assert served.link in told and "TLS" in told and "--known-as" in told
    other = serving.claim(Opening("127.0.0.1:0", True))
    with other.socket:
        assert other.who.token not in (None, token)


def test_the_shops_own_token() -> None:
    served = serving.claim(Opening("127.0.0.1:0", True), "sixteen-letters-or-more")
    with served.socket:
        assert served.link.endswith("?token=sixteen-letters-or-more")
    for bad in ("short", "sixteen letters and spaces", "sixteen-letters-&-more", "ü" * 20):
        with pytest.raises(AssistantError, match="ASSISTANT_WEB_TOKEN"):
            serving.claim(Opening("127.0.0.1:0", True), bad)


@pytest.mark.parametrize(
    ("address", "expected"),
    [
        ("8621", "Write ADDRESS:PORT"),
        ("127.0.0.1", "Write ADDRESS:PORT"),
        ("127.0.0.1:", "Write ADDRESS:PORT"),
        ("127.0.0.1:99999", "Write ADDRESS:PORT"),
        ("127.0.0.1:-1", "Write ADDRESS:PORT"),
        ("http://127.0.0.1:80", "Write ADDRESS:PORT"),
        ("\x1b[2J:80", "Write ADDRESS:PORT"),
        ("no-such-computer.invalid:8621", "has no address no-such-computer.invalid"),
        ("192.0.2.1:8621", "can be reached from the network"),
        ("0.0.0.0:0", "can be reached from the network"),
        ("[::]:0", "can be reached from the network"),
    ],
)
def test_an_address_that_will_not_do(address: str, expected: str) -> None:
    with pytest.raises(AssistantError) as caught:
        serving.claim(Opening(address))
    assert expected in str(caught.value) and "\x1b" not in str(caught.value)


def test_an_address_of_another_computer() -> None:
    # TEST-NET-1 of RFC 5737 is nobody's.
    with pytest.raises(AssistantError, match=r"has no address 192\.0\.2\.1"):
        serving.claim(Opening("192.0.2.1:8621", True))


def test_a_port_that_is_in_use() -> None:
    with socket.create_server(("127.0.0.1", 0)) as taken:
        port = taken.getsockname()[1]
        with pytest.raises(
            AssistantError, match=rf"Port {port} is in use .* 127\.0\.0\.1:{port + 1}"
        ):
            serving.claim(Opening(f"127.0.0.1:{port}"))


def test_the_commands_say_it_in_one_sentence(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    journal = ("--journal", str(tmp_path / "j.db"))
    work, board = ("run", "pump-rebuild", "--typed", *journal), ("board", *journal)

    def run(*arguments: str) -> tuple[int, str]:
        monkeypatch.setattr(sys, "stdin", io.StringIO("affirm\n"))
        capsys.readouterr()
        return main(arguments), capsys.readouterr().err

    status, told = run(*work, "--display", "127.0.0.1:0")
    assert status == 0
    assert re.match(r"Display: http://127\.0\.0\.1:\d+/\n", told)
    for arguments in ((*work, "--display", "nowhere"), (*board, "--at", "nowhere")):
        status, told = run(*arguments)
        assert status == 2 and told.count("\n") == 1
        assert told.startswith("nowhere is no address to serve at. ")
    monkeypatch.setitem(sys.modules, "uvicorn", None)
    for command in ((*work, "--display"), board):
        assert run(*command) == (
            2,
            "Pages for a browser need uvicorn. Install it with: pip install '.[web]'\n",
        )
    # None of these began a job.
    assert Journal(tmp_path / "j.db").numbers() == [1]
