"""Jobs on a real Dask cluster of this machine: the same bytes, whatever is killed on the way."""

import csv
import os
import shutil
import signal
import subprocess
from pathlib import Path

import pytest

from profiles.catalogue.cluster import Certificates, connect
from profiles.errors import WordsError
from tests.catalogue.calls import (
    FOAMS,
    check_whole,
    cluster,
    content,
    demo_jobs,
    make,
    small_hulls,
    start_make,
    wait_for_results,
)

pytest.importorskip("distributed")

OPENSSL = shutil.which("openssl")

SEVERAL = ("--foam", "60", "-o")


def finished(run: "subprocess.Popen[str]", code: int) -> tuple[str, str]:
    """What a run printed that ended with an exit code."""
    said, complained = run.communicate(timeout=900)
    assert run.returncode == code, (run.returncode, said, complained)
    assert "Traceback" not in complained
    return said, complained


def test_a_worker_that_is_killed_changes_nothing(tmp_path: Path) -> None:
    """Its jobs run elsewhere; every byte is that of a run on this machine."""
    hulls = small_hulls(tmp_path, 4)
    make(tmp_path, *hulls, *SEVERAL, "here")
    with (
        cluster(tmp_path) as there,
        start_make(tmp_path, *hulls, *SEVERAL, "there", "--cluster", there.address) as run,
    ):
        wait_for_results(tmp_path / "there", 1, run)
        there.workers[0].kill()
        said, complained = finished(run, 0)
    assert complained == ""
    assert "4 of 4 jobs made" in said
    assert content(tmp_path / "there") == content(tmp_path / "here")


@pytest.mark.slow
def test_a_scheduler_that_is_killed_ends_the_run_clearly(tmp_path: Path) -> None:
    """Exit code 3, a sentence, and finished folders whole; --resume makes the rest without the cluster."""
    hulls = small_hulls(tmp_path, 6)
    with (
        cluster(tmp_path) as there,
        start_make(tmp_path, *hulls, *SEVERAL, "made", "--cluster", there.address) as run,
    ):
        wait_for_results(tmp_path / "made", 1, run)
        there.scheduler.kill()
        said, complained = finished(run, 3)
    assert complained == ("stationer: The scheduler is gone. Start it again, and run the same command with --resume.\n")
    done = len(check_whole(tmp_path / "made"))
    assert 1 <= done < 6
    assert f"{done} of 6 jobs made, {6 - done} not begun or not ended" in said
    make(tmp_path, *hulls, *SEVERAL, "made", "--resume")
    rows = list(csv.DictReader((tmp_path / "made/catalogue.csv").read_text(encoding="utf-8").splitlines()))
    assert [row["state"] for row in rows].count("kept") == done
    assert len(check_whole(tmp_path / "made")) == 6


@pytest.mark.slow
def test_forty_jobs_give_the_same_bytes_wherever_they_are_made(tmp_path: Path) -> None:
    """Five demo hulls at two scales with four foams: one by one, by two workers, and on a cluster of two, one of which
    is killed on the way. Nothing is lost and nothing differs.
    """
    jobs = demo_jobs(tmp_path)
    make(tmp_path, *jobs, *FOAMS, "-o", "one", "--workers", "1")
    make(tmp_path, *jobs, *FOAMS, "-o", "two", "--workers", "2")
    with (
        cluster(tmp_path) as there,
        start_make(tmp_path, *jobs, *FOAMS, "-o", "there", "--cluster", there.address) as run,
    ):
        wait_for_results(tmp_path / "there", 10, run)
        there.workers[1].kill()
        said, _ = finished(run, 0)
    assert "40 of 40 jobs made" in said
    assert len(check_whole(tmp_path / "one")) == 40
    assert content(tmp_path / "one") == content(tmp_path / "two") == content(tmp_path / "there")


@pytest.mark.slow
def test_an_interrupt_cancels_what_the_cluster_has_not_done(tmp_path: Path) -> None:
    """Exit code 130; the cluster has nothing left to do and takes the next call."""
    hulls = small_hulls(tmp_path, 10)
    with cluster(tmp_path) as there:
        with start_make(tmp_path, *hulls, *SEVERAL, "made", "--cluster", there.address) as run:
            wait_for_results(tmp_path / "made", 1, run)
            os.killpg(run.pid, signal.SIGINT)
            _, complained = finished(run, 130)
        assert "jobs are made and complete" in complained
        check_whole(tmp_path / "made")
        make(tmp_path, *hulls, *SEVERAL, "made", "--cluster", there.address, "--resume")
    assert len(check_whole(tmp_path / "made")) == 10


OTHER_VERSIONS = """
from profiles.catalogue import making
making.versions()
making._versions["numpy"] = "0.9"
"""


@pytest.mark.slow
def test_a_worker_with_other_versions_is_refused(tmp_path: Path) -> None:
    """Its bytes would differ; the message names what does."""
    (tmp_path / "other.py").write_text(OTHER_VERSIONS, encoding="utf-8")
    with cluster(tmp_path, 1, "--preload", str(tmp_path / "other.py")) as there:
        done = make(tmp_path, *small_hulls(tmp_path, 2), *SEVERAL, "made", "--cluster", there.address, code=3)
    assert "numpy 0.9 (here " in done.stderr
    assert not (tmp_path / "made").exists()


@pytest.mark.slow
@pytest.mark.parametrize(
    ("workers", "words", "said"), [(0, (), "has no workers"), (1, ("--nthreads", "2"), "--nthreads 1")]
)
def test_a_cluster_that_cannot_work_is_refused(tmp_path: Path, workers: int, words: tuple[str, ...], said: str) -> None:
    """Without workers, or with workers that would make several jobs in one process."""
    with cluster(tmp_path, workers, *words) as there:
        done = make(tmp_path, *small_hulls(tmp_path, 2), *SEVERAL, "made", "--cluster", there.address, code=3)
    assert said in done.stderr


@pytest.mark.parametrize("address", ["127.0.0.1:8786", "http://x:1", "tls://127.0.0.1:1"])
def test_an_address_that_cannot_be_is_refused(address: str) -> None:
    """tls:// goes with certificates."""
    with pytest.raises(WordsError, match="--cluster"), connect(address, Certificates()):
        pass


def test_certificates_that_are_not_there_are_named(tmp_path: Path) -> None:
    """Before anything is tried."""
    missing = tmp_path / "ca.pem"
    with pytest.raises(WordsError, match=r"no file .*ca\.pem"), connect("tls://127.0.0.1:1", Certificates(missing)):
        pass


@pytest.mark.slow
@pytest.mark.skipif(OPENSSL is None, reason="openssl makes the certificates")
def test_a_cluster_with_certificates_takes_those_who_have_them(tmp_path: Path) -> None:
    """TLS with a certificate that signs itself; without it nothing is answered."""
    key, certificate = tmp_path / "key.pem", tmp_path / "certificate.pem"
    words = "req -x509 -newkey rsa:2048 -nodes -days 2 -subj /CN=localhost -keyout key.pem -out certificate.pem"
    subprocess.run([OPENSSL or "", *words.split()], cwd=tmp_path, check=True, capture_output=True)
    files = (str(certificate), str(certificate), str(key))
    security = [word for pair in zip(("--tls-ca-file", "--tls-cert", "--tls-key"), files, strict=True) for word in pair]
    hulls = small_hulls(tmp_path, 2)
    with cluster(tmp_path, 1, security=["--protocol", "tls", *security]) as there:
        ours = [word.replace("--tls-ca-file", "--tls-ca") for word in security]
        done = make(tmp_path, *hulls, *SEVERAL, "made", "--cluster", there.address, *ours)
        plain = there.address.replace("tls://", "tcp://")
        refused = make(tmp_path, *hulls, *SEVERAL, "not", "--cluster", plain, code=3)
    assert there.address.startswith("tls://")
    assert "network that you trust" not in done.stdout
    assert len(check_whole(tmp_path / "made")) == 2
    assert "no scheduler answers at tcp://" in refused.stderr


@pytest.mark.slow
def test_where_no_scheduler_answers_the_command_says_so(tmp_path: Path) -> None:
    """Exit code 3, nothing written."""
    done = make(tmp_path, *small_hulls(tmp_path, 2), *SEVERAL, "made", "--cluster", "tcp://127.0.0.1:9", code=3)
    assert "no scheduler answers at tcp://127.0.0.1:9" in done.stderr
    assert not (tmp_path / "made").exists()
