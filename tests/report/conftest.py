"""The jobs that the tests of the record look at, each worked through once."""

from pathlib import Path

import pytest

from tests.report.overhaul import Overhaul
from tests.report.whole_job import Job, close_failing_job, failing_job, whole_job


@pytest.fixture(scope="session")
def job(tmp_path_factory: pytest.TempPathFactory) -> Job:
    return whole_job(Path(tmp_path_factory.mktemp("record")) / "journal.db")


@pytest.fixture(scope="session")
def overhaul(tmp_path_factory: pytest.TempPathFactory) -> Overhaul:
    return Overhaul(Path(tmp_path_factory.mktemp("overhaul")) / "journal.db")


@pytest.fixture(scope="session")
def failing(tmp_path_factory: pytest.TempPathFactory) -> Job:
    """A job in which results fail, some of them still."""
    return failing_job(Path(tmp_path_factory.mktemp("failing")) / "journal.db")


@pytest.fixture(scope="session")
def conceded(tmp_path_factory: pytest.TempPathFactory) -> Job:
    """The same job, closed: what failed is settled or conceded."""
    job = failing_job(Path(tmp_path_factory.mktemp("conceded")) / "journal.db")
    close_failing_job(job)
    return job
