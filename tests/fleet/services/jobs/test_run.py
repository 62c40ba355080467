"""Is long work done once, whoever dies, and told as far as it is?"""

from __future__ import annotations

import datetime as dt
import subprocess
import sys
import threading
import time
from collections.abc import Callable
from contextlib import AbstractContextManager
from dataclasses import replace

import pytest

from fleet.domain.jobs import Job, JobFile, JobState
from fleet.errors import BadInput, NotFound, StoreError
from fleet.services.jobs.queue import KEPT_FOR, queue_job
from fleet.services.jobs.run import LEASE, MOST_TRIES, Made, Runner, Step, Work
from fleet.services.ports import Record, Stamp
from fleet.storage import SqlStore

NOW = dt.datetime(2026, 3, 3, 18, tzinfo=dt.UTC)


class Clock:
    def __init__(self) -> None:
        self.now = NOW

    def __call__(self) -> dt.datetime:
        return self.now


def queued(
    store: SqlStore,
    number: str = "1",
    kind: str = "count",
    at: dt.datetime = NOW,
    by: str = "account:somebody",
) -> Job:
    with store.begin(write=True) as record:
        stamp = Stamp(at=at, by=by, source="page")
        job = queue_job(record, number, kind, {"to": "3"}, stamp, [a_file("given.txt")])
        record.commit()
    return job


def a_file(name: str, content: bytes = b"text") -> JobFile:
    return JobFile(name=name, media_type="text/plain", content=content)


def found(store: SqlStore, number: str = "1") -> Job:
    with store.begin() as record:
        job = record.jobs.find(number)
    assert job is not None
    return job


def wait_for(is_so: Callable[[], bool]) -> None:
    """Wait until another thread or process has done what it is to do, 20 seconds at most."""
    for _ in range(2_000):
        if is_so():
            return
        time.sleep(0.01)
    pytest.fail("it did not happen within 20 seconds")


def counts(job: Job, step: Step) -> Made:
    for n in range(int(job.asked["to"])):
        step(n, 3, f"number {n}")
    return Made({"sum": "6"}, [a_file("made.txt", b"1 2 3")])


def runner(
    store: SqlStore, clock: Callable[[], dt.datetime], work: Work = counts, owner: str = "a"
) -> Runner:
    return Runner(store, {"count": work}, clock, owner)


def test_a_job_is_done_and_keeps_what_it_made(store: SqlStore) -> None:
    queued(store)
    clock = Clock()
    assert runner(store, clock).run_one()
    job = found(store)
    assert (job.state, job.result, job.ended_at) == (JobState.DONE, {"sum": "6"}, NOW)
    with store.begin() as record:
        assert record.jobs.file("1", "made.txt") == a_file("made.txt", b"1 2 3")
        assert record.jobs.file("1", "given.txt") == a_file("given.txt")
        assert record.jobs.file("1", "other.txt") is None
    assert not runner(store, clock).run_one(), "there is no other"


def test_the_same_number_asked_twice_is_one_job(store: SqlStore) -> None:
    assert queued(store) == queued(store)


def test_a_number_that_stands_for_something_else_is_refused(store: SqlStore) -> None:
    queued(store)
    with pytest.raises(BadInput, match="sent before with something else in it; load the page"):
        queued(store, kind="other")


def test_what_failed_is_done_once_more_when_it_is_asked_again(store: SqlStore) -> None:
    def refuses(job: Job, step: Step) -> Made:
        raise NotFound("site", "nowhere", "name another")

    queued(store)
    runner(store, Clock(), refuses).run_one()
    queued(store)
    assert runner(store, Clock()).run_one()
    assert (found(store).state, found(store).tries) == (JobState.DONE, 1)


def test_the_oldest_is_done_first(store: SqlStore) -> None:
    queued(store, "2", at=NOW)
    queued(store, "1", at=NOW - dt.timedelta(minutes=1))
    runner(store, Clock()).run_one()
    assert found(store, "1").state is JobState.DONE
    assert found(store, "2").state is JobState.WAITING


def test_how_far_it_is_can_be_read_while_it_runs_and_no_writer_waits(store: SqlStore) -> None:
    queued(store)
    seen: list[tuple[int, int, str]] = []
    clock = Clock()

    def looks(job: Job, step: Step) -> Made:
        for n in range(3):
            clock.now += dt.timedelta(seconds=1)
            step(n, 3, f"number {n}")
            standing = found(store)
            seen.append((standing.done, standing.total, standing.words))
            queued(store, f"other {n}")
        return Made()

    runner(store, clock, looks).run_one()
    assert seen == [(n, 3, f"number {n}") for n in range(3)]


def test_progress_is_not_written_more_than_twice_a_second(store: SqlStore) -> None:
    queued(store)
    clock = Clock()

    def hurries(job: Job, step: Step) -> Made:
        step(1, 9, "begun")
        clock.now += dt.timedelta(milliseconds=400)
        step(2, 9, "too soon")
        return Made({"told": found(store).words})

    runner(store, clock, hurries).run_one()
    assert found(store).result == {"told": "begun"}


def test_what_fails_says_why_in_words_and_what_nobody_foresaw_tells_no_trace(
    store: SqlStore, caplog: pytest.LogCaptureFixture
) -> None:
    def refuses(job: Job, step: Step) -> Made:
        raise NotFound("site", "nowhere", "name another")

    def breaks(job: Job, step: Step) -> Made:
        raise RuntimeError("SELECT secret")

    queued(store, "1")
    runner(store, Clock(), refuses).run_one()
    assert (found(store).state, found(store).words) == (
        JobState.FAILED,
        "no site 'nowhere'; name another",
    )
    queued(store, "2")
    runner(store, Clock(), breaks).run_one()
    assert "SELECT" not in found(store, "2").words
    assert "SELECT secret" in caplog.text


def test_a_job_whose_process_died_is_done_by_another_and_the_dead_one_keeps_nothing(
    store: SqlStore,
) -> None:
    queued(store)
    clock = Clock()

    def dies(job: Job, step: Step) -> Made:
        clock.now += LEASE + dt.timedelta(seconds=1)
        assert runner(store, clock, owner="b").run_one(), "another takes it over"
        return Made({"sum": "of the dead"})

    assert runner(store, clock, dies, owner="a").run_one()
    job = found(store)
    assert (job.owner, job.result, job.tries) == ("b", {"sum": "6"}, 2)


def test_progress_keeps_the_job_from_being_taken(store: SqlStore) -> None:
    queued(store)
    clock = Clock()

    def goes_on(job: Job, step: Step) -> Made:
        for n in range(4):
            clock.now += LEASE / 2
            step(n, 4, "")
            assert not runner(store, clock, owner="b").run_one()
        return Made({"by": "a"})

    runner(store, clock, goes_on, owner="a").run_one()
    assert found(store).result == {"by": "a"}


def test_a_job_that_tells_nothing_for_long_is_kept_by_the_beat_of_its_process(
    store: SqlStore,
) -> None:
    queued(store)
    clock = Clock()

    def is_silent(job: Job, step: Step) -> Made:
        for _ in range(4):
            clock.now += LEASE / 2
            wait_for(lambda: found(store).lease_until_at == clock.now + LEASE)
            assert not runner(store, clock, owner="b").run_one()
        return Made({"by": "a"})

    one = runner(store, clock, is_silent, owner="a")
    one.beat_seconds = 0.001
    assert one.run_one()
    assert (found(store).result, found(store).tries) == ({"by": "a"}, 1)


def test_the_beat_of_a_process_that_lost_its_job_changes_nothing(store: SqlStore) -> None:
    queued(store)
    clock = Clock()

    def sleeps(job: Job, step: Step) -> Made:
        with store.begin(write=True) as record:
            record.jobs.put(replace(found(store), owner="b"))
            record.commit()
        before = found(store)
        clock.now += dt.timedelta(seconds=1)
        time.sleep(0.05)
        assert found(store) == before
        return Made()

    one = runner(store, clock, sleeps, owner="a")
    one.beat_seconds = 0.01
    one.run_one()
    assert (found(store).state, found(store).owner) == (JobState.RUNNING, "b")


def test_a_database_that_is_busy_costs_the_progress_and_not_the_job(
    store: SqlStore, monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    queued(store)
    begin = store.begin

    def busy(*, write: bool = False) -> AbstractContextManager[Record]:
        if write:
            raise StoreError("the database is locked")
        return begin()

    def goes_on(job: Job, step: Step) -> Made:
        with monkeypatch.context() as patch:
            patch.setattr(store, "begin", busy)
            step(1, 2, "half")
        return Made({"sum": "6"})

    runner(store, Clock(), goes_on).run_one()
    assert (found(store).state, found(store).words) == (JobState.DONE, "")
    assert "was not written: the database is locked" in caplog.text


def test_a_process_that_is_killed_at_work_leaves_the_job_to_another(
    fleet_url: str, store: SqlStore
) -> None:
    """SIGKILL in the middle of the work, on a real process."""
    queued(store)
    killed = subprocess.Popen([sys.executable, "-c", _HANGS, fleet_url])
    try:
        wait_for(lambda: found(store).words == "begun")
    finally:
        killed.kill()
        killed.wait()
    clock = Clock()
    assert not runner(store, clock).run_one(), "its lease holds still"
    clock.now += LEASE + dt.timedelta(seconds=1)
    assert runner(store, clock).run_one()
    job = found(store)
    assert (job.state, job.tries, job.result) == (JobState.DONE, 2, {"sum": "6"})


_HANGS = """
import datetime, sys, threading
from fleet.services.jobs.run import Runner
from fleet.storage import open_store

NOW = datetime.datetime(2026, 3, 3, 18, tzinfo=datetime.timezone.utc)


def hangs(job, step):
    step(1, 2, "begun")
    threading.Event().wait()


store = open_store(sys.argv[1], clock=lambda: NOW)
Runner(store, {"count": hangs}, lambda: NOW, "killed").run_one()
"""


def test_a_job_that_kills_its_process_is_given_up_after_three_tries(store: SqlStore) -> None:
    job = queued(store)
    with store.begin(write=True) as record:
        left = replace(job, state=JobState.RUNNING, tries=MOST_TRIES, owner="a", lease_until_at=NOW)
        record.jobs.put(left)
        record.commit()
    clock = Clock()
    clock.now += dt.timedelta(seconds=1)
    assert runner(store, clock).run_one()
    assert (found(store).state, found(store).words) == (
        JobState.FAILED,
        "it was begun three times, and no process came to its end",
    )


def test_two_processes_at_once_do_each_job_once(store: SqlStore) -> None:
    done: list[str] = []
    for number in range(6):
        queued(store, f"{number}", by=f"account:{number}")

    def notes(job: Job, step: Step) -> Made:
        done.append(job.number)
        return Made()

    def runs(owner: str) -> None:
        one = runner(store, Clock(), notes, owner)
        while one.run_one():
            pass

    threads = [threading.Thread(target=runs, args=(owner,)) for owner in "abc"]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert sorted(done) == [f"{number}" for number in range(6)]


def test_old_jobs_are_forgotten_with_their_files(store: SqlStore) -> None:
    queued(store, "1", at=NOW - KEPT_FOR - dt.timedelta(days=1))
    clock = Clock()
    runner(store, clock).run_one()
    queued(store, "2")
    runner(store, clock).run_one()
    with store.begin() as record:
        assert record.jobs.find("1") is None
        assert record.jobs.file("1", "made.txt") is None
    assert found(store, "2").state is JobState.DONE


def test_old_jobs_are_forgotten_when_another_is_asked_for(store: SqlStore) -> None:
    old = NOW - KEPT_FOR - dt.timedelta(minutes=1)
    queued(store, "ended", at=old)
    runner(store, Clock()).run_one()
    queued(store, "waiting", at=old)
    queued(store, "another")
    with store.begin() as record:
        assert record.jobs.find("ended") is None
        assert record.jobs.file("ended", "given.txt") is None
        assert record.jobs.file("waiting", "given.txt") is not None
    assert found(store, "waiting").state is JobState.WAITING, "what was not done is not forgotten"


def test_what_waited_too_long_is_done_and_not_forgotten_under_way(store: SqlStore) -> None:
    queued(store, at=NOW - KEPT_FOR - dt.timedelta(days=1))
    assert runner(store, Clock()).run_one()
    assert found(store).state is JobState.DONE


def test_the_loop_ends_when_it_is_told_to(store: SqlStore) -> None:
    queued(store)
    stopped = threading.Event()
    thread = threading.Thread(target=runner(store, Clock()).loop, args=(stopped, 0.01))
    thread.start()
    while found(store).state is not JobState.DONE:
        pass
    stopped.set()
    thread.join(5)
    assert not thread.is_alive()
