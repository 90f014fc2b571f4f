"""Tasks made by a Dask cluster, through its `concurrent.futures` interface.

Workers get the bytes of the hull file and return the bytes of the result, so they share no disk with this machine. A
task whose worker is lost goes to another by itself.

Dask's scheduler runs whatever code it is sent by anyone who reaches it, unless it asks for certificates (TLS): a
cluster without them is for a trusted network only.
"""

import contextlib
import logging
from collections.abc import Iterator, Mapping
from concurrent.futures import Executor
from pathlib import Path
from typing import TYPE_CHECKING, Any

from profiles.catalogue.making import different_versions, versions
from profiles.errors import ClusterError, WordsError
from profiles.values import dataclass

if TYPE_CHECKING:
    from distributed import Client

PATIENCE = 20
"""Seconds that the scheduler may take to answer."""

LEAVE = 2
"""Seconds that saying goodbye may take."""

SCHEMES = ("tcp://", "tls://")

INSTALL = "pip install 'stationer[cluster]' brings it."

TRUSTED = (
    "Use a cluster without TLS only on a network that you trust: its scheduler runs code for anyone who reaches it."
)

MOST_NAMED = 3
"""Workers that a message names."""


@dataclass(frozen=True, slots=True)
class Certificates:
    """Files in PEM for a cluster with TLS."""

    authority: Path | None = None
    """Of the authority that signed all certificates."""
    certificate: Path | None = None
    key: Path | None = None

    @property
    def any(self) -> bool:
        """Whether one is given."""
        return any((self.authority, self.certificate, self.key))


@dataclass(frozen=True, slots=True)
class Cluster:
    """A cluster that is connected."""

    client: "Client"
    workers: int
    memory: int | None
    """Bytes that a worker may take, the least of all; None where they have no limit."""
    versions: Mapping[str, str]

    def is_there(self) -> bool:
        """Whether the scheduler can still be reached."""
        return bool(self.client.status == "running")

    @contextlib.contextmanager
    def start(self, _workers: int) -> Iterator[Executor]:
        """Its executor; what is under way when this ends is cancelled."""
        executor = self.client.get_executor(pure=False)
        try:
            yield executor
        finally:
            with contextlib.suppress(Exception):  # whatever a lost connection raises
                executor.shutdown(wait=False)


@contextlib.contextmanager
def connect(address: str, certificates: Certificates) -> Iterator[Cluster]:
    """The cluster at an address. Raises WordsError for an address or certificates that cannot be, ClusterError where
    nothing answers, no worker is there, or a worker has other versions.
    """
    _check_words(address, certificates)
    try:
        import dask
        from distributed import Client
        from distributed.security import Security
    except ImportError:
        message = "--cluster needs Dask, which is not installed"
        raise ClusterError(message, remedy=INSTALL) from None
    _silence()
    security = None
    if certificates.any:
        files = {
            "tls_ca_file": certificates.authority,
            "tls_client_cert": certificates.certificate,
            "tls_client_key": certificates.key,
        }
        security = Security(
            require_encryption=True, **{name: str(file) for name, file in files.items() if file is not None}
        )
    settings = {"distributed.admin.large-graph-warning-threshold": "1GB", "distributed.comm.retry.count": 0}
    with dask.config.set(settings):
        try:
            client = Client(address, security=security, timeout=PATIENCE, set_as_default=False)
        except (OSError, ValueError, TypeError, RuntimeError) as fault:
            message = f"no scheduler answers at {address} ({_first_line(fault)})"
            raise ClusterError(message, remedy="Start one with dask scheduler, or correct the address.") from None
        try:
            yield _checked(client, address)
        finally:
            with contextlib.suppress(Exception):
                client.close(timeout=LEAVE)


def _check_words(address: str, certificates: Certificates) -> None:
    if not address.startswith(SCHEMES):
        message = f"--cluster: expected an address such as tcp://192.168.1.20:8786, found {address!r}"
        raise WordsError(message)
    if address.startswith("tls://") != certificates.any:
        message = f"--cluster {address}: certificates (--tls-ca, --tls-cert, --tls-key) go with an address of tls://"
        raise WordsError(message, remedy="Give both or neither.")
    missing = [
        str(file)
        for file in (certificates.authority, certificates.certificate, certificates.key)
        if file and not file.is_file()
    ]
    if missing:
        message = f"--cluster: there is no file {missing[0]}"
        raise WordsError(message)


def _checked(client: "Client", address: str) -> Cluster:
    """The cluster, whose workers have one thread each and the versions of this machine."""
    workers: dict[str, dict[str, Any]] = client.scheduler_info(n_workers=-1)["workers"]
    if not workers:
        message = f"the cluster at {address} has no workers"
        raise ClusterError(message, remedy=f"Start some with dask worker {address} --nthreads 1.")
    threads = [name for name, worker in workers.items() if worker["nthreads"] != 1]
    if threads:
        message = f"workers with more than one thread at {address}: {_named(threads)}"
        raise ClusterError(message, remedy="Start them with --nthreads 1, and --nworkers for more of them.")
    here = versions()
    try:
        there: dict[str, dict[str, str]] = client.run(versions)
    except Exception as fault:  # noqa: BLE001 - whatever a worker without this program raises
        message = f"the workers at {address} cannot run Stationer ({_first_line(fault)})"
        raise ClusterError(message, remedy="Install the same version of it on all machines.") from None
    other = {name: words for name, found in there.items() if (words := different_versions(here, found))}
    if other:
        name, words = next(iter(other.items()))
        message = (
            f"{len(other)} of {len(there)} workers have other versions, which give other bytes: {name} has {words}"
        )
        raise ClusterError(message, remedy="Install the same on all machines.")
    limits = [worker["memory_limit"] for worker in workers.values() if worker["memory_limit"]]
    return Cluster(client, len(workers), min(limits, default=None), here)


def _named(names: list[str]) -> str:
    more = f" and {len(names) - MOST_NAMED} more" if len(names) > MOST_NAMED else ""
    return ", ".join(names[:MOST_NAMED]) + more


def _first_line(fault: Exception) -> str:
    return next(iter(str(fault).splitlines()), type(fault).__name__)[:200]


def _silence() -> None:
    """Dask logs a traceback for every lost connection; here each becomes a sentence."""
    for name in list(logging.root.manager.loggerDict):
        if name.split(".")[0] in {"distributed", "tornado"}:
            logging.getLogger(name).setLevel(logging.CRITICAL + 1)
