"""Jobs: told how far, stopped, each done by one worker at a time, taken up when that dies, kept once. The law is that
nothing asked for is lost and nothing is kept twice; crashes are real ones (`os._exit`, SIGKILL)."""

import multiprocessing
import os
import signal
import subprocess
import sys
import time
from pathlib import Path
from threading import Event

import pytest

sys.path.insert(0, str(Path(__file__).parent))

import trial

from scrieve import jobs, store
from scrieve.boat import Boat
from scrieve.jobs import board, boards, doing, kinds
from scrieve.jobs.crew import Crew, place_of
from scrieve.jobs.watched import Watched
from scrieve.stock import Part, rectangular
from scrieve.stock.layout import Shop
from scrieve.stock.standing import Standing
from scrieve.store.connect import reading

spawn = multiprocessing.get_context("spawn")


@pytest.fixture(autouse=True)
def counting(monkeypatch):
    monkeypatch.setitem(kinds.KINDS, "counting", "trial")
    monkeypatch.setattr(doing, "BEAT_S", 0.05)
    monkeypatch.setattr(doing, "LOOK_S", 0.05)


@pytest.fixture
def engine(tmp_path):
    engine = store.create(tmp_path / "a.boat", Boat("Teal"))
    yield engine
    engine.dispose()


@pytest.fixture
def crew(engine, monkeypatch):
    crew = Crew(engine)
    monkeypatch.setattr(jobs, "wake", lambda _: crew.wake())
    yield crew
    crew.close()


def asked(engine, tmp_path, name="a", **more):
    return {"name": name, "to": 5, "notes": str(tmp_path / "notes")} | more


def counted(engine):
    return [(record.member, record.detail["n"]) for record in store.records(engine, "counted")]


def wait(engine, job, seconds=120.0):
    assert Watched(engine, job).done.wait(seconds), board.look(engine, job.number)
    return board.look(engine, job.number)


def test_a_job_tells_how_far_it_is_and_its_result_is_kept_once(engine, crew, tmp_path):
    job = jobs.begin(engine, "counting", "a", asked(engine, tmp_path, to=60), who="Ada")
    seen = set()
    while not (now := board.look(engine, job.number)).ended:
        seen.add((now.at, now.share, (now.best or {}).get("n")))
        time.sleep(0.02)
    assert len(seen) > 1
    assert all(at == f"at {n}" and share == n / 60 for at, share, n in seen if n is not None)
    assert (now.state, now.result["n"]) == ("done", 60)
    assert counted(engine) == [("a", 60)]
    assert store.records(engine, "counted")[0].who == "Ada"


def test_a_job_stops_with_the_best_so_far_and_one_that_waits_at_once(engine, crew, tmp_path):
    job = jobs.begin(engine, "counting", "a", asked(engine, tmp_path, to=10_000))
    while not board.look(engine, job.number).best:
        time.sleep(0.02)
    assert jobs.begin(engine, "counting", "a", {}).number == job.number, "one of a lane at a time"
    jobs.wish_stop(engine, job.number)
    now = wait(engine, job)
    assert now.state == "stopped"
    assert 0 < now.result["n"] < 10_000
    crew.close()
    waits = board.ask(engine, "counting", "a", asked(engine, tmp_path))
    jobs.wish_stop(engine, waits.number)
    assert board.look(engine, waits.number).state == "stopped"
    assert board.claim(engine, "w", board.Watch()) is None


def test_what_fails_is_told_and_the_next_may_be_asked_for(engine, crew, tmp_path):
    job = jobs.begin(engine, "counting", "a", asked(engine, tmp_path, fails=True))
    now = wait(engine, job)
    assert (now.state, now.said) == ("failed", "there is no such number.")
    assert wait(engine, jobs.begin(engine, "counting", "a", asked(engine, tmp_path))).state == "done"


def test_a_job_whose_worker_gives_no_sign_of_life_is_taken_up_and_the_first_can_keep_nothing(engine, tmp_path):
    board.ask(engine, "counting", "a", asked(engine, tmp_path))
    watch = board.Watch(after_s=0.3)
    first = board.claim(engine, "first", board.Watch())
    assert board.claim(engine, "second", watch) is None
    board.report(engine, first, "at 1", 0.2, None)
    time.sleep(0.35)
    assert board.claim(engine, "second", watch) is None, "it has given a sign meanwhile"
    time.sleep(0.35)
    second = board.claim(engine, "second", watch)
    assert second.tries == 2
    with pytest.raises(board.Lost):
        board.hand_in(engine, first, {"n": 1})
    doing.do(engine, second, Event())
    assert counted(engine) == [("a", 5)]


def test_a_result_handed_in_before_the_worker_died_is_kept_once_and_not_worked_out_again(engine, tmp_path):
    board.ask(engine, "counting", "a", asked(engine, tmp_path))
    first = board.claim(engine, "first", board.Watch())
    board.hand_in(engine, first, {"n": 7})
    trial.keep(engine, first.what, {"n": 7}, first.key, first.who)  # and here it dies
    board.give_back(engine, "first")
    doing.do(engine, board.claim(engine, "second", board.Watch()), Event())
    assert counted(engine) == [("a", 7)]
    assert not (tmp_path / "notes").exists()


def test_a_job_that_kills_its_workers_is_given_up(engine, tmp_path):
    job = board.ask(engine, "counting", "a", asked(engine, tmp_path))
    for n in range(board.MOST_TRIES):
        assert board.claim(engine, f"w{n}", board.Watch()).tries == n + 1
        board.give_back(engine, f"w{n}")
    assert board.claim(engine, "w", board.Watch()) is None
    now = board.look(engine, job.number)
    assert now.state == "failed"
    assert "3 times" in now.said


def _started(engine, many):
    workers = [spawn.Process(target=trial.worker, args=(place_of(engine), f"w{n}"), daemon=True) for n in range(many)]
    for worker in workers:
        worker.start()
    return workers


def test_workers_in_processes_never_do_a_job_twice_at_once_and_one_that_is_killed_loses_nothing(engine, tmp_path):
    names = [f"job {n}" for n in range(5)]
    asked_for = [board.ask(engine, "counting", name, asked(engine, tmp_path, name, to=20)) for name in names]
    asked_for.append(board.ask(engine, "counting", "last", asked(engine, tmp_path, "last", to=40, dies_at=20)))
    workers = _started(engine, 2)
    ended = [wait(engine, job) for job in asked_for]
    assert [job.state for job in ended] == ["done"] * len(asked_for)
    assert ended[-1].tries == 2
    assert sorted(counted(engine)) == sorted([(name, 20) for name in names] + [("last", 40)])
    notes = [line.rsplit(" ", 3) for line in (tmp_path / "notes").read_text().splitlines()]
    assert len({process for _, _, process, _ in notes}) > 1
    begun = [name for name, what, _, _ in notes if what == "begins"]
    assert sorted(begun) == sorted([*names, "last", "last"]), "each once, but for the one whose worker died"
    for worker in workers:
        worker.kill()
        worker.join()


SERVER = """
import sys, time
from scrieve import jobs, store
with jobs.at_work(store.open_boat(sys.argv[1])) as crew:
    while True:
        time.sleep(0.1)
        print(*(worker.pid for worker in crew.workers), flush=True)
"""


def _pids(server):
    while not (said := server.stdout.readline().split()):
        assert server.poll() is None
    return [int(pid) for pid in said]


def test_worker_and_server_are_killed_and_the_job_is_brought_to_its_end_all_the_same(engine):
    """Boards laid in worker processes, as 'scrieve serve' has them."""
    parts = tuple(Part(f"p{n}", ((0, 0), (900, 0), (900, 90), (0, 90)), 25) for n in range(6))
    rack = (rectangular("A", 4000, 300, 30), rectangular("B", 3000, 200, 30))
    found = Standing(rack, parts, Shop(seconds=600), None, False, {}, {}, (), "as it is")
    job = board.ask(engine, "laying boards", "laying", boards.asked(found), "Ada")
    server = subprocess.Popen([sys.executable, "-c", SERVER, place_of(engine)], stdout=subprocess.PIPE, text=True)
    (worker,) = _pids(server)
    while (first := board.look(engine, job.number)).best is None:
        time.sleep(0.05)
    os.kill(worker, signal.SIGKILL)
    while board.look(engine, job.number).worker == first.worker:
        time.sleep(0.05)
    server.kill()
    server.wait()
    server.stdout.close()
    watch, until = board.Watch(after_s=1.0), time.monotonic() + 120
    while (mine := board.claim(engine, "the next server's", watch)) is None:
        assert time.monotonic() < until, "workers go with their server"
        time.sleep(0.1)
    assert mine.tries >= 2
    jobs.wish_stop(engine, job.number)
    doing.do(engine, mine, Event())
    assert board.look(engine, job.number).state == "stopped"
    with reading(engine) as db:
        assert db.exec_driver_sql("SELECT count(*) FROM acts WHERE who = 'Ada'").scalar() == 1
    assert len(store.choices(engine, "layout")["laying"]["placements"]) == 6
