"""The same jobs on dask.distributed: a scheduler and two workers in processes of their own, reached by the setting."""

import os
import signal
import sys
import time
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parent))

from test_jobs import asked, counted, counting, engine, wait  # noqa: F401

from scrieve import jobs
from scrieve.errors import ScrieveError
from scrieve.jobs import board
from scrieve.jobs.cluster import SETTING, cluster_set


@pytest.fixture
def cluster(monkeypatch):
    import distributed

    with distributed.LocalCluster(
        n_workers=2, threads_per_worker=1, processes=True, dashboard_address=None, silence_logs=50
    ) as found:
        monkeypatch.setenv(SETTING, found.scheduler_address)
        yield found


def test_jobs_run_on_two_workers_tell_how_far_stop_and_outlive_a_worker(engine, tmp_path, cluster):  # noqa: F811
    helm = cluster_set()
    there = set(helm.client.run(os.getpid).values())
    with jobs.at_work(engine, helm):
        both = [
            jobs.begin(engine, "counting", name, asked(engine, tmp_path, name, to=60, pause_s=0.04)) for name in "ab"
        ]
        ended = [wait(engine, job) for job in both]
        assert [(job.state, job.result["n"]) for job in ended] == [("done", 60)] * 2
        assert {job.result["process"] for job in ended} == there, "one on each"
        assert all(job.best["n"] > 0 for job in ended)
        assert sorted(counted(engine)) == [("a", 60), ("b", 60)]

        long = jobs.begin(engine, "counting", "c", asked(engine, tmp_path, "c", to=10_000))
        while not (board.look(engine, long.number).best or {}).get("n"):
            time.sleep(0.05)
        jobs.wish_stop(engine, long.number)
        stopped = wait(engine, long)
        assert stopped.state == "stopped"
        assert 0 < stopped.result["n"] < 10_000

        killed = jobs.begin(engine, "counting", "d", asked(engine, tmp_path, "d", to=100))
        while "d begins" not in (tmp_path / "notes").read_text():
            time.sleep(0.05)
        os.kill(int((tmp_path / "notes").read_text().splitlines()[-1].split()[-2]), signal.SIGKILL)
        assert wait(engine, killed).result["n"] == 100
        assert counted(engine)[-1] == ("d", 100)


def test_a_scheduler_that_does_not_answer_or_a_package_that_is_missing_is_told(monkeypatch):
    assert cluster_set() is None
    monkeypatch.setattr("scrieve.jobs.cluster._PATIENCE", "0.3s")
    monkeypatch.setenv(SETTING, "tcp://127.0.0.1:9")
    with pytest.raises(ScrieveError, match=r"no scheduler .* answers at 'tcp://127.0.0.1:9'"):
        cluster_set()
    monkeypatch.setitem(sys.modules, "distributed", None)
    with pytest.raises(ScrieveError, match=r"pip install 'scrieve\[yard\]'"):
        cluster_set()
