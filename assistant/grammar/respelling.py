"""Respellings: words that a recogniser does not know, spelt with words that it knows.

A recogniser hears only the words of its vocabulary. Few vocabularies have "circlip", but "sir clip"
sounds the same: the recogniser listens for that and reports "circlip". In the section
"pocketsphinx" a respelling can also be a pronunciation, in the phones of CMUdict without stress, in
capitals.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from assistant import resources
from assistant.errors import AssistantError

ANY = "any"
"""The section of a file that applies to every recogniser."""


@dataclass(frozen=True)
class Respellings:
    """Respellings by section: "any", or the name of a model. Words are casefolded."""

    sections: Mapping[str, Mapping[str, tuple[str, ...]]] = field(default_factory=dict)

    def of(self, word: str, model: str = ANY) -> tuple[str, ...] | None:
        """Return the respelling of a word, from the section `model` or else "any"; None if none."""
        for section in (model, ANY):
            found = self.sections.get(section, {}).get(word.casefold())
            if found:
                return found
        return None

    def with_extra(self, extra: Mapping[str, str], section: str = ANY) -> "Respellings":
        """Return these respellings and `extra` (word to respelling), which takes precedence."""
        added = {word.casefold(): tuple(text.split()) for word, text in extra.items()}
        joined = {**self.sections.get(section, {}), **added}
        return Respellings({**self.sections, section: joined})


def standing() -> Respellings:
    """Return the respellings that ship with the assistant."""
    return read(resources.folder("grammars") / "respellings.yaml")


def read(path: Path, base: Respellings | None = None) -> Respellings:
    """Read respellings from a YAML file and add them to `base`.

    The file maps sections ("any", or a model's name) to words, and each word to its respelling. A
    file without sections is the section "any". Raises AssistantError, with file and line, for any
    mistake.
    """
    from ruamel.yaml.comments import CommentedMap
    from ruamel.yaml.error import MarkedYAMLError, YAMLError

    from assistant import plain_yaml

    try:
        if path.stat().st_size > plain_yaml.MOST_BYTES:
            raise AssistantError(
                f"{path}: larger than respellings can be ({plain_yaml.MOST_BYTES} bytes)."
            )
        content = plain_yaml.load(path.read_text(encoding="utf-8"))
    except OSError as error:
        raise AssistantError(
            f"{path}: cannot read these respellings: {error.strerror or error}."
        ) from None
    except UnicodeDecodeError:
        raise AssistantError(f"{path}: is not UTF-8 text; save it as UTF-8.") from None
    except YAMLError as error:
        mark = error.problem_mark if isinstance(error, MarkedYAMLError) else None
        line = mark.line + 1 if mark else 1
        problem = getattr(error, "problem", None) or str(error).splitlines()[0]
        raise AssistantError(f"{path}:{line}: expected YAML, found a mistake: {problem}.") from None
    respellings = base or Respellings()
    if content is None:
        return respellings
    if not isinstance(content, CommentedMap):
        raise AssistantError(
            f"{path}:1: expected words and their respellings, such as 'circlip: sir clip'."
        )
    if not any(isinstance(value, dict) for value in content.values()):
        return respellings.with_extra(_words(path, content))
    for section, words in content.items():
        line = content.lc.key(section)[0] + 1
        if not isinstance(words, dict):
            raise AssistantError(
                f"{path}:{line}: expected words under the section {section!r}; the file has "
                "sections, so every word must be in one, such as 'any'."
            )
        respellings = respellings.with_extra(_words(path, words), str(section).casefold())
    return respellings


def _words(path: Path, content: Any) -> dict[str, str]:
    words: dict[str, str] = {}
    for word, respelling in content.items():
        line = content.lc.key(word)[0] + 1
        if not isinstance(word, str) or not isinstance(respelling, str) or not respelling.split():
            raise AssistantError(
                f"{path}:{line}: expected a word and its respelling, such as "
                f"'circlip: sir clip', found {word!r}: {respelling!r}. Put yes, no, on, off and "
                "numbers in quotes."
            )
        if len(word.split()) != 1:
            raise AssistantError(
                f"{path}:{line}: expected one word to respell, found {word!r}; respell the words "
                "of a phrase one by one."
            )
        words[word] = respelling
    return words
