"""How many jobs may a person let wait or run at once?"""

from __future__ import annotations

import pytest

from fleet.domain.jobs import Job, JobState
from fleet.errors import BadInput, NotFound
from fleet.services.jobs.queue import MOST_UNFINISHED, queue_job
from fleet.services.jobs.run import Made, Step
from fleet.services.ports import Stamp
from fleet.storage import SqlStore
from tests.fleet.services.jobs.test_run import NOW, Clock, found, queued, runner


def test_one_job_more_than_five_of_a_person_is_refused_until_one_has_ended(
    store: SqlStore,
) -> None:
    for number in range(MOST_UNFINISHED):
        queued(store, f"{number}")
    with pytest.raises(BadInput, match=r"5 jobs of yours wait or run already \(count, .*/jobs"):
        queued(store, "one more")
    with store.begin() as record:
        assert record.jobs.find("one more") is None
    assert queued(store, "4").number == "4", "one that waits already is no other"
    assert queued(store, "another's", by="account:other").number == "another's"
    runner(store, Clock()).run_one()
    queued(store, "one more")


def test_one_that_runs_or_is_asked_for_once_more_counts_too(store: SqlStore) -> None:
    def refuses(job: Job, step: Step) -> Made:
        raise NotFound("site", "nowhere", "name another")

    queued(store, "failed")
    runner(store, Clock(), refuses).run_one()
    for number in range(MOST_UNFINISHED):
        queued(store, f"{number}")
    with pytest.raises(BadInput, match="wait or run already"):
        queued(store, "failed")

    def looks(job: Job, step: Step) -> Made:
        with pytest.raises(BadInput, match="wait or run already"):
            queued(store, "while one runs")
        return Made()

    runner(store, Clock(), looks).run_one()
    assert found(store, "0").state is JobState.DONE


def test_what_follows_from_another_job_by_itself_is_not_refused(store: SqlStore) -> None:
    for number in range(MOST_UNFINISHED):
        queued(store, f"{number}")
    with store.begin(write=True) as record:
        stamp = Stamp(at=NOW, by="account:somebody", source="page")
        queue_job(record, "follows", "count", {}, stamp, follows=True)
        record.commit()
    assert found(store, "follows").state is JobState.WAITING
