"""One job as one file, to keep or to take elsewhere: a ZIP archive that anyone can look into.

    manifest.json     what the job is known by, and the SHA-256 of every other file
    events.jsonl      one event a line: place, previous, hash, event
    clips/HASH.flac   the sound of findings and notes, named by its SHA-256
    pictures/HASH.jpg the pictures, each named by its SHA-256
    procedure.yaml    the procedure as it was worked from
    report.html       the record for people, as made when the archive was
    additions.jsonl   only where there are any: what was entered after the job was
                      closed, one entry a line; it is in no chain, and no seal covers it

What comes in is not trusted: names, sizes and counts are bounded, nothing is unpacked to disk,
and a job is taken in only where its chain, clips and pictures verify and its additions can be read.
"""

from __future__ import annotations

import json
import re
import uuid
import zipfile
import zlib
from collections.abc import Iterator
from dataclasses import asdict, replace
from datetime import datetime
from hashlib import sha256
from pathlib import Path
from typing import Any

from assistant.dialogue import events
from assistant.errors import AssistantError
from assistant.journal import additions, chain, verification
from assistant.journal.chain import Fault, Link
from assistant.journal.records import Head, Identity
from assistant.journal.schema import sync_folder, synced
from assistant.journal.store import Journal
from assistant.journal.verification import Verdict

FORMAT = "bench job"
VERSION = 1

_MANIFEST, _EVENTS, _PROCEDURE, _REPORT, _ADDITIONS = (
    "manifest.json",
    "events.jsonl",
    "procedure.yaml",
    "report.html",
    "additions.jsonl",
)
_CLIP = re.compile(r"clips/([0-9a-f]{64})\.flac")
_PICTURE = re.compile(r"pictures/([0-9a-f]{64})\.jpg")

_MOST_FILES = 10_000
_MOST_BYTES = {
    _MANIFEST: 4 << 20,
    _EVENTS: 128 << 20,
    _PROCEDURE: 4 << 20,
    _REPORT: 512 << 20,
    _ADDITIONS: 8 << 20,
}
_MOST_OF_ONE = 16 << 20
_MOST_IN_ALL = 1 << 30
"""A clip is at most some minutes at 32 kB/s, a picture 2 MB; these are far above what a job has."""


def write(journal: Journal, job: int, out: Path, report: str) -> Verdict:
    """Write a job's archive; `report` is its page.

    Raises AssistantError where the job does not verify, and where the file cannot be written.
    """
    found = verification.job(journal, job)
    if found.fault is not None:
        raise AssistantError(
            f"Job {job} is not as it was recorded: {found.fault.text}. "
            "No archive was made, for none would be accepted anywhere."
        )
    part = out.with_name(f".{out.name}.part")
    try:
        with part.open("wb") as file:
            with zipfile.ZipFile(file, "w", zipfile.ZIP_DEFLATED) as archive:
                _fill(archive, journal, job, report, found)
            synced(file)
        part.replace(out)
        sync_folder(out.absolute().parent)
    except OSError as error:
        part.unlink(missing_ok=True)
        raise AssistantError(f"Cannot write {out}: {error.strerror}.") from error
    return found


def _fill(
    archive: zipfile.ZipFile, journal: Journal, job: int, report: str, found: Verdict
) -> None:
    digests: dict[str, str] = {}

    def add(name: str, data: bytes) -> None:
        info = zipfile.ZipInfo(name)  # With a fixed date: the events say when.
        # FLAC and JPEG do not get smaller.
        stored = name.endswith((".flac", ".jpg"))
        info.compress_type = zipfile.ZIP_STORED if stored else zipfile.ZIP_DEFLATED
        archive.writestr(info, data)
        digests[name] = sha256(data).hexdigest()

    lines = []
    source = ""
    for link in journal.links(job):
        # Canonical, as the body is: its keys are in order.
        lines.append(
            f'{{"event":{link.body},"hash":"{link.hash}","place":{link.place},'
            f'"previous":"{link.previous}"}}\n'
        )
        if link.place == 1:
            source = chain.parse(link.body)["source"]
    add(_EVENTS, "".join(lines).encode())
    add(_PROCEDURE, source.encode())
    add(_REPORT, report.encode())
    added = journal.addition_texts(job)
    if added:
        add(_ADDITIONS, "".join(f"{text}\n" for text in added).encode())
    for digest, flac in journal.sounds(job):
        add(f"clips/{digest}.flac", flac)
    for digest, jpeg in journal.pictures(job):
        add(f"pictures/{digest}.jpg", jpeg)
    manifest = {
        "format": FORMAT,
        "version": VERSION,
        "job": asdict(journal.identity(job)),
        "events": found.events,
        "last": found.last,
        "closed": found.closed,
        "files": digests,
    }
    archive.writestr(zipfile.ZipInfo(_MANIFEST), json.dumps(manifest, indent=1, ensure_ascii=False))


class Archive:
    """An archive, open for reading. Use it as a context manager.

    Raises AssistantError, naming the file, where it is no archive of a job, or is larger or
    otherwise made than such an archive can be.
    """

    def __init__(self, path: Path) -> None:
        self.path = path
        try:
            if path.stat().st_size > _MOST_IN_ALL:
                raise self._no("it is too large")
            self._zip = zipfile.ZipFile(path)
        except OSError as error:
            raise AssistantError(f"Cannot read {path}: {error.strerror}.") from error
        except (zipfile.BadZipFile, ValueError, NotImplementedError) as error:
            raise self._no(f"it is no ZIP file ({error})") from error
        try:
            self._check_names()
            manifest = self._json(self._read(_MANIFEST))
            if manifest.get("format") != FORMAT or manifest.get("version") != VERSION:
                raise self._no("its manifest is of another format or version")
            self.who = self._identity(manifest.get("job"))
            try:
                self._files: dict[str, str] = dict(manifest["files"])
                self.head = Head(
                    int(manifest["events"]), str(manifest["last"]), bool(manifest["closed"])
                )
            except (KeyError, TypeError, ValueError) as error:
                raise self._no("its manifest lacks something") from error
        except BaseException:
            self._zip.close()
            raise

    def __enter__(self) -> Archive:
        return self

    def __exit__(self, *_: object) -> None:
        self._zip.close()

    def _no(self, why: str) -> AssistantError:
        return AssistantError(f"{self.path} is not an archive of a job: {why}.")

    def _check_names(self) -> None:
        entries = self._zip.infolist()
        names = [entry.filename for entry in entries]
        if len(names) > _MOST_FILES or len(set(names)) != len(names):
            raise self._no("it has too many files, or two of one name")
        for name in names:
            known = name in _MOST_BYTES or _CLIP.fullmatch(name) or _PICTURE.fullmatch(name)
            if not known:
                raise self._no(f"there is a file in it that no such archive has, {name[:80]!r}")
        if sum(entry.file_size for entry in entries) > _MOST_IN_ALL:
            raise self._no("it is too large")

    def _read(self, name: str) -> bytes:
        """Read one file. What the archive says of its size is not relied on."""
        most = _MOST_BYTES.get(name, _MOST_OF_ONE)
        try:
            with self._zip.open(name) as file:
                data = file.read(most + 1)
        except KeyError as error:
            raise self._no(f"there is no {name} in it") from error
        except OSError as error:
            raise AssistantError(f"Cannot read {self.path}: {error.strerror}.") from error
        except (zipfile.BadZipFile, zlib.error, RuntimeError, EOFError, ValueError) as error:
            # RuntimeError: encrypted, or packed in a way that is not known here.
            raise self._no(f"{name} in it cannot be unpacked ({error})") from error
        if len(data) > most:
            raise self._no(f"{name} in it is too large")
        return data

    def _json(self, data: bytes) -> dict[str, Any]:
        try:
            value = json.loads(data)
        except (ValueError, RecursionError) as error:
            raise self._no("a line of it is no JSON") from error
        if not isinstance(value, dict):
            raise self._no("a line of it is no JSON object")
        return value

    def _identity(self, given: Any) -> Identity:
        try:
            who = Identity(**given)
            if who.uid != str(uuid.UUID(who.uid)):
                raise ValueError
            datetime.fromisoformat(who.opened)
            texts = (who.uid, who.bench, who.opened, who.title, who.unit or "")
            if not all(isinstance(text, str) for text in texts):
                raise ValueError
        except (TypeError, ValueError, AttributeError) as error:
            raise self._no("its manifest does not say which job it is") from error
        return who

    def links(self) -> Iterator[Link]:
        """Yield the events as they were stored, in the order of the file."""
        for line in self._read(_EVENTS).splitlines():
            row = self._json(line)
            try:
                place, previous, own = row["place"], row["previous"], row["hash"]
                body = chain.canonical(row["event"])
            except (KeyError, AssistantError, RecursionError) as error:
                raise self._no("a line of its events lacks something") from error
            if type(place) is not int or not isinstance(previous, str) or not isinstance(own, str):
                raise self._no("a line of its events is of another kind")
            yield Link(place, previous, own, body)

    def sounds(self) -> Iterator[tuple[str, bytes]]:
        """Yield the clips: the digest that each is named by, and its FLAC bytes."""
        return self._named(_CLIP)

    def pictures(self) -> Iterator[tuple[str, bytes]]:
        """Yield the pictures: the digest that each is named by, and its JPEG bytes."""
        return self._named(_PICTURE)

    def _named(self, pattern: re.Pattern[str]) -> Iterator[tuple[str, bytes]]:
        for name in self._zip.namelist():
            match = pattern.fullmatch(name)
            if match:
                yield match[1], self._read(name)

    def addition_texts(self) -> tuple[str, ...]:
        """Return what was entered after the job was closed, as stored, in the order of the file."""
        if _ADDITIONS not in self._zip.namelist():
            return ()
        lines = self._read(_ADDITIONS).splitlines()
        if len(lines) > additions.MOST or not self.head.closed:
            raise self._no(f"there is more in {_ADDITIONS} than such a job can have")
        try:
            return tuple(chain.canonical(self._json(line)) for line in lines)
        except (AssistantError, RecursionError) as error:
            raise self._no(f"a line of {_ADDITIONS} is not an entry") from error

    def verify(self) -> Verdict:
        """Verify the job, the files that were made from it, and what is beside it."""
        found = verification.check(
            self.who,
            self.links(),
            self.sounds(),
            self.pictures(),
            self.head,
            self.addition_texts(),
        )
        if found.fault is not None:
            return found
        fault = self._files_fault() or verification.additions_fault(
            self.addition_texts(), found.seal
        )
        return replace(found, fault=fault)

    def _files_fault(self) -> Fault | None:
        there = {name for name in self._zip.namelist() if name != _MANIFEST}
        for name in sorted(there | set(self._files)):
            if name not in there:
                return Fault("missing", None, f"{name} is missing")
            if self._files.get(name) != sha256(self._read(name)).hexdigest():
                return Fault("altered", None, f"{name} is not as it was put in")
        first = chain.parse(next(self.links()).body)
        if self._read(_PROCEDURE).decode(errors="replace") != first.get("source"):
            return Fault("altered", None, f"{_PROCEDURE} is not what was worked from")
        return None

    def add_to(self, journal: Journal, number: int) -> int:
        """Add what was entered after closing to a journal that has the job; return how many.

        Raises AssistantError where it does not verify.
        """
        self._see_that_it_verifies()
        texts = self.addition_texts()
        later = additions.pictures(texts)
        pictures = (jpeg for digest, jpeg in self.pictures() if digest in later)
        return journal.add_stored(number, texts, pictures)

    def _see_that_it_verifies(self) -> None:
        found = self.verify()
        if found.fault is not None:
            raise AssistantError(
                f"{self.path} was not taken in. The job is not as it was recorded: "
                f"{found.fault.text}."
            )

    def take_in(self, journal: Journal) -> int | None:
        """Take the job into a journal; return its number there, None where it is there already.

        Raises AssistantError, naming the first fault, where it does not verify, and where it has
        events that this version does not know; nothing is taken in then.
        """
        self._see_that_it_verifies()
        for link in self.links():
            try:
                events.EVENT.validate_json(link.body)
            except ValueError as error:
                raise AssistantError(
                    f"{self.path} was not taken in. Event {link.place} is none that this "
                    "assistant knows; it may be a newer one's. Update this one."
                ) from error
        sounds = (flac for _, flac in self.sounds())
        pictures = (jpeg for _, jpeg in self.pictures())
        return journal.adopt(self.who, self.links(), sounds, self.addition_texts(), pictures)
