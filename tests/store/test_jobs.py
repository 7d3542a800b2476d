"""The table of jobs on both stores: claimed once by however many try at once, one of a lane under way."""

from threading import Barrier, Thread

import pytest

from scrieve.jobs import board


def at_once(many, act):
    begin, found = Barrier(many), []

    def one(n):
        begin.wait()
        found.append(act(n))

    threads = [Thread(target=one, args=(n,)) for n in range(many)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    return found


def test_of_many_who_claim_at_once_each_gets_another_job_and_none_is_left(engine):
    asked = {board.ask(engine, "counting", f"lane {n}", {"n": n}).number for n in range(6)}

    def claims(n):
        mine = []
        while job := board.claim(engine, f"worker {n}", board.Watch()):
            mine.append(job.number)
        return mine

    claimed = [number for mine in at_once(4, claims) for number in mine]
    assert sorted(claimed) == sorted(asked)
    for number in asked:
        job = board.look(engine, number)
        assert (job.state, job.tries) == ("running", 1)
        board.end(engine, job, "done")


def test_asked_for_by_many_at_once_one_of_a_lane_is_under_way(engine):
    for lane in "bcdefghij":
        assert (
            len({job.number for job in at_once(6, lambda n, lane=lane: board.ask(engine, "counting", lane, {"n": n}))})
            == 1
        )
    for _ in "bcdefghij":
        board.end(engine, board.claim(engine, "w", board.Watch()), "done")
    numbers = {job.number for job in at_once(4, lambda n: board.ask(engine, "counting", "a", {"n": n}))}
    assert len(numbers) == 1
    job = board.claim(engine, "w", board.Watch())
    assert job.number in numbers
    board.hand_in(engine, job, {"found": [1.5, None]})
    board.end(engine, job, "stopped")
    assert board.latest(engine, "a").result == {"found": [1.5, None]}
    with pytest.raises(board.Lost):
        board.end(engine, job, "done")
    assert board.ask(engine, "counting", "a", {}).number not in numbers
    board.wish_stop(engine, board.latest(engine, "a").number)
    assert board.under_way(engine) == (0, 0)
