"""Print what understanding a sentence costs, in processor time: most of them, and the worst.

    python -m tests.benchmarks.parse_bench

Every sentence of the phrase tables, and many sampled from the grammar, with their pauses and
without. Each is parsed a few times and the quickest counts: the others were disturbed.
"""

import random
from time import process_time

from assistant.errors import BenchError
from assistant.language.listening import RUN_ON, Context, grammar, rules
from assistant.language.meaning import MEANINGS
from tests.language.test_phrases import NEAR_MISSES, PHRASES

SAMPLES, TIMES = 10_000, 3
MOST_MS = 5.0


def parse_ms(said: str, context: Context) -> float:
    """Milliseconds to try the ways a sentence can start until one fits."""
    quickest = float("inf")
    for _ in range(TIMES):
        begun = process_time()
        for start in (*rules(context), RUN_ON):
            try:
                grammar().meanings(said, start, MEANINGS)
                break
            except BenchError:
                continue
        quickest = min(quickest, 1000 * (process_time() - begun))
    return quickest


def report(name: str, sentences: list[tuple[Context, str]]) -> None:
    costs = sorted((parse_ms(said, context), said) for context, said in sentences)
    median, late, (worst, said) = (
        costs[len(costs) // 2][0],
        costs[len(costs) * 95 // 100][0],
        costs[-1],
    )
    over = "  OVER" if worst > MOST_MS else ""
    print(f"{name}: {len(costs)} sentences, milliseconds each")
    print(f"  median {median:.3f}  95th of 100 {late:.3f}  worst {worst:.3f}{over}: {said}")


def main() -> None:
    grammar()
    report("tables", [(context, said) for context, said, _ in PHRASES + NEAR_MISSES])
    rng = random.Random(4)
    contexts = [rng.choice(list(Context)) for _ in range(SAMPLES)]
    sampled = [(at, grammar().sample(rng.choice(rules(at)), rng)) for at in contexts]
    report("sampled", sampled)
    report("sampled, no pause heard", [(at, said.replace(" ,", "")) for at, said in sampled])


if __name__ == "__main__":
    main()
