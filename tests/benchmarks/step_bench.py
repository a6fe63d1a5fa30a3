"""Print what a step of the conversation costs: milliseconds of processor time.

    python -m tests.benchmarks.step_bench

Every kind of event and every request, at the start, in the middle of a job, and in the worst
state there is: everything known, four cuts measured, everything due, forty jobs in the book.
What is heard is parsed each time, as at the bench: no parse is remembered. What people say is
also counted by itself: random sentences of the grammar run to forty words.
"""

from collections import defaultdict
from collections.abc import Iterator
from statistics import median, quantiles
from time import process_time

from assistant.dialogue import State, begin, step
from assistant.errors import BenchError
from assistant.events import Event, Heard, Hearing, Key, KeyPressed, SpindleSeen, Tick
from assistant.exchange import events_of
from assistant.language import listening
from assistant.language.listening import meanings_of
from assistant.settings import from_toml
from tests.dialogue.utterances import NONSENSE, SAID, sampled

TIMES = 5
SAMPLED = 400

MIDDLE = "morse two;between balls one forty two point five;how many turns;yes;head set;started"
WORST = (
    "set up the head;point five;fifty;travel;backlash point one;twenty;front;work length one fifty;"
    "ten millimetre balls;mouth nine;one in twenty;brass;work diameter twenty;full replies;"
    "head set;measured twenty and seventeen point five, fifty apart;head set;"
    "measured twenty and seventeen point four, fifty apart;head set;"
    "measured twenty and seventeen point six, fifty apart;head set;"
    "measured twenty and seventeen point five, fifty apart;gauge stands off three millimetres;"
    "ball is hot;started"
)


def after(script: str, state: State) -> State:
    for line in script.split(";"):
        for event in events_of(line):
            state = step(state, event).state
    return state


def states() -> Iterator[tuple[str, State]]:
    first = begin(from_toml("").first_job()).state
    yield "first", first
    yield "middle", after(MIDDLE, first)
    worst = after(f"{WORST};{';'.join(['finish job'] * 40)}", first)
    yield "worst", after("wait 700", worst)


def events(state: State) -> Iterator[tuple[str, Event]]:
    """Yield events by kind; what was heard by what it is taken for."""
    for words in (*SAID, *NONSENSE, *sampled(SAMPLED, seed=1)):
        hearing = Hearing((words,))
        try:
            kind = type(meanings_of(hearing, state.context)[0]).__name__
        except BenchError:
            kind = "(refused)"
        yield f"heard {kind}", Heard(hearing)
    three = tuple(f"{words} [unk]" for words in sampled(3, seed=2))
    yield "heard (refused)", Heard(Hearing((*three, *NONSENSE)))
    for key in Key:
        yield "key", KeyPressed(key)
    yield "tick", Tick(1.0)
    yield "tick", Tick(86_400.0)
    yield "sensor", SpindleSeen(True)
    yield "sensor", SpindleSeen(False)


def cost_ms(state: State, event: Event) -> float:
    costs = []
    for _ in range(TIMES):
        listening._meanings.cache_clear()
        begun = process_time()
        step(state, event)
        costs.append((process_time() - begun) * 1000)
    return median(costs)


def main() -> None:
    costs: dict[str, list[float]] = defaultdict(list)
    slowest: list[tuple[float, str, Event]] = []
    for name, state in states():
        keying = step(state, KeyPressed(Key.A)).state
        step(state, Heard(Hearing(("help",))))  # the first look at the tables is no step
        for kind, event in events(state):
            cost = cost_ms(state, event)
            costs[kind].append(cost)
            if isinstance(event, Heard) and event.hearing.words in SAID:
                costs["heard, of people"].append(cost)
            slowest.append((cost, name, event))
            costs["any, while keying"].append(cost_ms(keying, event))
    print("milliseconds                 median     95%     max")
    for kind, found in sorted(costs.items()):
        most = quantiles(found, n=20)[18] if len(found) > 1 else found[0]
        print(f"{kind:<26}{median(found):9.3f}{min(most, max(found)):8.3f}{max(found):8.3f}")
    for cost, name, event in sorted(slowest, key=lambda each: -each[0])[:8]:
        print(f"{cost:8.3f}  {name:<7} {event}")


if __name__ == "__main__":
    main()
