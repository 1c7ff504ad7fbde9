"""A service of its own process, as `optimiser serve` starts it, and what tests need to know of processes."""

import json
import os
import signal
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

import httpx2

ROOT = Path(__file__).parents[2]
SOON_S = 60.0


@dataclass(frozen=True)
class Server:
    """A running service."""

    process: "subprocess.Popen[str]"
    address: str
    link: str

    def client(self) -> httpx2.Client:
        return httpx2.Client(base_url=self.address, timeout=SOON_S)

    def worker(self) -> int:
        """The process id of the worker, waited for."""
        threads = Path(f"/proc/{self.process.pid}/task")
        for _ in range(200):
            for thread in threads.iterdir():
                for child in (thread / "children").read_text().split():
                    if "optimiser.service.worker" in Path(f"/proc/{child}/cmdline").read_text():
                        return int(child)
            time.sleep(0.05)
        raise AssertionError("no worker was started")

    def kill(self) -> None:
        """Kill it as a power cut would."""
        self.process.send_signal(signal.SIGKILL)
        self.process.wait()


@contextmanager
def served(store: Path, *words: str) -> Iterator[Server]:
    """The service of a store on a free port."""
    command = [sys.executable, "-m", "optimiser", "serve", "--port", "0", "--json", "--store", str(store), *words]
    environment = os.environ | {"OPENBLAS_NUM_THREADS": "1", "PYTHONWARNINGS": "error"}
    with subprocess.Popen(
        command, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True, cwd=ROOT, env=environment
    ) as process:
        assert process.stdout is not None
        said = ""
        while not said.endswith("}\n"):
            line = process.stdout.readline()
            assert line, process.stderr.read() if process.stderr else ""
            said += line
        told = json.loads(said)
        try:
            yield Server(process, told["address"], told["link"])
        finally:
            if process.poll() is None:
                process.send_signal(signal.SIGINT)
                process.wait(SOON_S)


def resident_mb(process: int) -> float:
    """The memory that a process holds now, in MB."""
    lines = dict(line.split(":", 1) for line in Path(f"/proc/{process}/status").read_text().splitlines())
    return int(lines["VmRSS"].split()[0]) * 1024 / 1e6


def peak_mb(process: int) -> float:
    """The most memory that a process ever held, in MB."""
    lines = dict(line.split(":", 1) for line in Path(f"/proc/{process}/status").read_text().splitlines())
    return int(lines["VmHWM"].split()[0]) * 1024 / 1e6


def processor_s(process: int) -> float:
    """Seconds of processor that a process has used."""
    fields = Path(f"/proc/{process}/stat").read_text().rpartition(")")[2].split()
    return (int(fields[11]) + int(fields[12])) / os.sysconf("SC_CLK_TCK")
