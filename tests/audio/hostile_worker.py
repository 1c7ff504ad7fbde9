"""Run by the tests as a process of its own: measures hostile files and says of each, on a line, what came of it.

hostile_worker.py FOLDER COUNT
"""

import json
import resource
import signal
import sys
import time
import traceback
from pathlib import Path

from optimiser.errors import BadInput
from optimiser.workflow import measure_view
from tests.audio.hostile_files import hostile, write_good

LONGEST_S = 60
MOST_ADDRESSES = 3 << 30


def main(folder: Path, count: int) -> None:
    resource.setrlimit(resource.RLIMIT_AS, (MOST_ADDRESSES, MOST_ADDRESSES))
    good, bad = folder / "good.wav", folder / "hostile.wav"
    write_good(good)
    measure_view(good, good, None)
    for number in range(count):
        trick, content = hostile(number)
        bad.write_bytes(content)
        size = len(content)
        del content
        pair = (good, bad) if number % 3 else (bad, good)
        signal.alarm(LONGEST_S)
        before, started = time.process_time(), time.monotonic()
        outcome, said = outcome_of(*pair)
        figures = {"cpu_s": time.process_time() - before, "wall_s": time.monotonic() - started, "peak_mb": peak_mb()}
        line = {"number": number, "trick": trick, "bytes": size, "outcome": outcome, "said": said, **figures}
        sys.stdout.write(json.dumps(line) + "\n")
        sys.stdout.flush()


def outcome_of(reference: Path, capture: Path) -> tuple[str, str]:
    try:
        match = measure_view(reference, capture, None)["match"]
    except BadInput as error:
        return "refused", str(error)
    except BaseException:
        return "escaped", traceback.format_exc()
    return ("measured", str(match)) if 0 <= match <= 100 else ("escaped", f"a match of {match}")


def peak_mb() -> float:
    """The most memory this process ever held, in MB; the kernel's own count, which starts anew with the program."""
    status = Path("/proc/self/status")
    if status.exists():
        lines = dict(line.split(":", 1) for line in status.read_text().splitlines())
        return int(lines["VmHWM"].split()[0]) * 1024 / 1e6
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1e6


if __name__ == "__main__":
    main(Path(sys.argv[1]), int(sys.argv[2]))
