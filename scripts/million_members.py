"""Draw many members of the demo's yard-walk on a Dask cluster of two workers on this machine.

Nothing fails: each member only tells when it crosses each limit. Prints time, members per second
and the memory of client, scheduler and workers, which does not grow with members.

    .venv/bin/python scripts/million_members.py [MEMBERS, 1000000 unless said]
"""

from __future__ import annotations

import os
import sys
import tempfile
import time
from collections.abc import Iterable, Iterator
from pathlib import Path

MEGABYTE = 1e6
PARTS = 10


def main(members: int) -> None:
    """Compute so many members and print what it took."""
    # The cluster is the one that the tests start.
    sys.path.insert(0, str(Path(__file__).parents[1] / "tests" / "outing"))
    from local_cluster import LocalCluster, local_cluster, memory
    from scenarios import DEMO, scenario_of

    from neckring.cluster import on_cluster
    from neckring.outing.ensemble import PACE, Question, tasks_of
    from neckring.outing.gathered import Chunk, Gathered
    from neckring.outing.watching import rules_of

    def sizes(cluster: LocalCluster, name: str) -> str:
        """Memory of each process, in words."""
        numbers = [cluster.scheduler.pid, *(worker.pid for worker in cluster.workers)]
        client, scheduler, *workers = (memory(n, name) / MEGABYTE for n in (os.getpid(), *numbers))
        each = " and ".join(f"{worker:.0f}" for worker in workers)
        return f"client {client:.0f}, scheduler {scheduler:.0f}, workers {each} MB"

    def told(chunks: Iterable[Chunk], cluster: LocalCluster) -> Iterator[Chunk]:
        """The same chunks; tells after each tenth of all members."""
        done, parts = 0, 0
        for chunk in chunks:
            yield chunk
            done += chunk.reached.shape[1]
            if done * PARTS >= members * (parts + 1):
                parts = done * PARTS // members
                spent = time.perf_counter() - begun
                print(f"{done:>9} members, {spent:6.1f} s: {sizes(cluster, 'VmRSS')}", flush=True)

    question = Question(scenario_of("yard-walk"), DEMO.limits, members)
    found = Gathered(question.reserves, PACE.beyond)
    with (
        tempfile.TemporaryDirectory() as folder,
        local_cluster(Path(folder)) as cluster,
        on_cluster(cluster.address) as run,
    ):
        begun = time.perf_counter()
        found.add(told(run(tasks_of(question, 0, members, {})), cluster))
        spent = time.perf_counter() - begun
        peaks = sizes(cluster, "VmHWM")
    print(f"{found.members} members in {spent:.1f} s: {found.members / spent:.0f} a second")
    print(f"peak resident memory: {peaks}")
    assert found.crossings is not None
    watched = rules_of(DEMO.limits.limits, question.scenario.wearer.age.nominal).limits
    for limit, crossed in zip(watched, found.crossings, strict=True):
        print(f"{limit.quantity} {limit.action}: {int(crossed)} cross it")


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 1_000_000)
