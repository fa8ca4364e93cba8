"""The shop's PostgreSQL: connecting to it, its schema, and its errors in plain words."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Any

from assistant.errors import AssistantError

if TYPE_CHECKING:
    from sqlalchemy import Connection, Engine

VERSION_TABLE = "bench_assistant_version"
_SCHEMES = ("postgresql", "postgres")
_LOCK = 0x62656E6368
"""Key of the advisory lock under which the schema is made or changed ("bench")."""
_CONNECTING_S = 10
_LONGEST_WORD = 500
_SETTINGS = "-c lock_timeout=60s -c idle_in_transaction_session_timeout=60s"
"""Time limits, so that a publisher that hangs does not hold up the others for long."""


class Unreachable(AssistantError):
    """The database does not answer; later it may."""


class Refused(AssistantError):
    """The database's own rules refuse what was sent, and nothing of it is there."""


def is_url(text: str) -> bool:
    """Whether the text names a shop's database, and not a bench's file."""
    scheme, separator, _ = text.partition("://")
    return bool(separator) and scheme.split("+")[0] in _SCHEMES


class Server:
    """A connection to the shop's database; `name` is its URL without any password.

    Raises AssistantError for what is no such URL, and where the extra `shop` is not installed.
    """

    def __init__(self, url: str, *, read_only: bool = False) -> None:
        try:
            import alembic  # noqa: F401
            import psycopg  # noqa: F401
            import sqlalchemy as sa
        except ImportError as error:
            raise AssistantError(
                f"The shop's database needs {error.name}. Install it with: pip install '.[shop]'"
            ) from error
        if not is_url(url):
            raise AssistantError(
                "The shop's database is given as postgresql://USER@HOST/DATABASE. "
                "A bench's own journal is a file, given with --journal."
            )
        try:
            parsed = sa.make_url(url).set(drivername="postgresql+psycopg")
        except (sa.exc.ArgumentError, ValueError) as error:
            # The text may hold a password: it is not repeated.
            raise AssistantError(
                "That URL cannot be read. Write postgresql://USER@HOST/DATABASE; characters of a "
                "password such as @ and / are written %40 and %2F."
            ) from error
        hidden = {k: v for k, v in parsed.query.items() if "pass" not in k}
        shown = sa.URL.create(
            "postgresql", parsed.username, None, parsed.host, parsed.port, parsed.database, hidden
        )
        self.name = shown.render_as_string().replace("%2F", "/")
        query = parsed.query.get("password")
        self._secrets = [s for s in (parsed.password, query) if isinstance(s, str) and s]
        settings = _SETTINGS + (" -c default_transaction_read_only=on" if read_only else "")
        self.engine: Engine = sa.create_engine(
            parsed,
            pool_size=1,
            max_overflow=0,
            pool_pre_ping=True,
            connect_args={
                "connect_timeout": _CONNECTING_S,
                "application_name": "bench-assistant",
                "options": settings,
                "keepalives_idle": 30,
                "tcp_user_timeout": 60_000,
            },
        )

    def close(self) -> None:
        """Let go of the connection."""
        self.engine.dispose()

    @contextmanager
    def transaction(self) -> Iterator[Connection]:
        """Do all of it or nothing.

        Raises Unreachable where the database does not answer, Refused where its rules say no,
        and AssistantError where anything else is wrong with it.
        """
        import sqlalchemy.exc as trouble

        try:
            with self.engine.begin() as connection:
                yield connection
        except (trouble.IntegrityError, trouble.DataError) as error:
            raise Refused(self._first_line(error)) from error
        except (trouble.OperationalError, trouble.InterfaceError, trouble.TimeoutError) as error:
            raise Unreachable(
                f"Cannot reach the shop's database {self.name}: {self._first_line(error)}."
            ) from error
        except trouble.SQLAlchemyError as error:
            if getattr(error, "connection_invalidated", False):
                raise Unreachable(
                    f"The connection to the shop's database {self.name} was lost."
                ) from error
            raise AssistantError(
                f"The shop's database {self.name} says: {self._first_line(error)}."
            ) from error

    def _first_line(self, error: Exception) -> str:
        cause = getattr(error, "orig", None) or error
        diagnosis = getattr(getattr(cause, "diag", None), "message_primary", None)
        lines = str(diagnosis or cause).strip().splitlines()
        text = (lines[0] if lines else type(cause).__name__).rstrip(".")
        for secret in self._secrets:
            text = text.replace(secret, "***")
        return text

    def prepare(self) -> None:
        """Make the schema where there is none; any number of publishers may do so at once.

        Raises AssistantError where the schema is of another version, and as `transaction` does.
        """
        import sqlalchemy as sa
        from alembic import command

        with self.transaction() as connection:
            if self._stands_at_head(connection):
                return
            connection.execute(sa.text("SELECT pg_advisory_xact_lock(:key)"), {"key": _LOCK})
            # Asked again: another publisher may have been quicker.
            if not self._stands_at_head(connection):
                command.upgrade(_config(connection), "head")

    def check(self) -> None:
        """See that the schema is of this version. Raises AssistantError where it is not."""
        with self.transaction() as connection:
            if not self._stands_at_head(connection):
                raise AssistantError(
                    f"There is no record of this version in {self.name} yet. "
                    "Send one with: assistant publish --to URL"
                )

    def _stands_at_head(self, connection: Connection) -> bool:
        from alembic.migration import MigrationContext
        from alembic.script import ScriptDirectory

        opts = {"version_table": VERSION_TABLE}
        there = MigrationContext.configure(connection, opts=opts).get_current_revision()
        scripts = ScriptDirectory.from_config(_config(connection))
        if there is not None and there not in {s.revision for s in scripts.walk_revisions()}:
            raise AssistantError(
                f"The shop's database {self.name} is laid out in revision {there}, which this "
                "assistant does not know. Use the assistant that made it; nothing was sent, and "
                "nothing is lost."
            )
        return there == scripts.get_current_head()


def _config(connection: Connection) -> Any:
    from alembic.config import Config

    config = Config()
    folder = str(Path(__file__).with_name("migrations"))
    config.set_main_option("script_location", folder.replace("%", "%%"))
    config.set_main_option("path_separator", "os")
    config.attributes["connection"] = connection
    return config


def search_words(text: str) -> list[str]:
    """Return the words of a text as the search index holds them: small, without accents.

    PostgreSQL takes words of up to 2046 bytes; of a longer one the beginning is found.
    """
    folded = unicodedata.normalize("NFKD", text.casefold())
    bare = "".join(c for c in folded if not unicodedata.combining(c))
    return [word[:_LONGEST_WORD] for word in re.findall(r"[^\W_]+", bare)]
