"""The conversation's own tables as text for people: the states, and what can be said."""

from itertools import pairwise

from assistant.dialogue.conversation import TABLE
from assistant.dialogue.state import ASKING, HEAD_QUESTIONS, NEEDS, Mode
from assistant.events import Event
from assistant.language.listening import grammar
from assistant.language.requests import Fact


def diagram() -> str:
    """Return the state diagram in Mermaid's notation.

    Every request works in every mode, so only what is asked for and what answers it is drawn.
    """
    lines = [f"[*] --> {_node(Mode.ASKING_TAPER)}"]
    for need in dict.fromkeys(need.mode for need in NEEDS):
        wanted = sorted({q for one in NEEDS if one.mode is need for q in one.questions})
        lines.append(f"{_node(Mode.READY)} --> {_node(need)} : {', '.join(wanted)} wanted")
    heads = (Mode.ASKING_HEAD, *HEAD_QUESTIONS)
    lines.append(f"{_node(Mode.READY)} --> {_node(heads[0])} : turns wanted, head not known")
    lines += [f"{_node(one)} --> {_node(two)}" for one, two in pairwise(heads)]
    for mode, asking in ASKING.items():
        if mode in (Mode.READY, *heads[:-1]):
            continue
        answers = ", ".join(_name(kind) for kind in asking.answers) or "answered"
        lines.append(f"{_node(mode)} --> {_node(Mode.READY)} : {answers}")
    lines.append(f"{_node(Mode.READY)} --> {_node(Mode.KEYING)} : a key, in any mode")
    lines.append(f"{_node(Mode.KEYING)} --> {_node(Mode.READY)} : back to the mode it came from")
    return "\n".join(("```mermaid", "stateDiagram-v2", *(f"    {line}" for line in lines), "```"))


def modes() -> str:
    """Return a table of the modes: what each asks, listens for and takes from the keys."""
    rows = ["| mode | asks | listens first for | a digit begins |", "|---|---|---|---|"]
    for mode, asking in ASKING.items():
        keys = asking.keyed or ", ".join(asking.keys)
        rows.append(f"| {mode} | {asking.question} | {asking.context} | {keys} |")
    return "\n".join(rows)


def events() -> str:
    """Return a table of what every event does: one row for each event and handler."""
    found: dict[tuple[type[Event], str], list[Mode]] = {}
    for (mode, event), does in TABLE.items():
        name = getattr(does, "__name__", "").strip("_").replace("_", " ")
        found.setdefault((event, name), []).append(mode)
    rows = ["| event | handler | in |", "|---|---|---|"]
    for (event, name), where in found.items():
        modes_in = "every mode" if set(where) == set(Mode) else "keying"
        if set(where) == set(ASKING):
            modes_in = "every mode but keying"
        rows.append(f"| {event.__name__} | {name} | {modes_in} |")
    return "\n".join(rows)


def sayings() -> str:
    """Return what can be said: the first examples of every grammar."""
    rows = []
    for name, examples in grammar().examples.items():
        if examples and name != "said":
            rows.append(f"- {name.replace('_', ' ')}: {' · '.join(examples)}")
    return "\n".join(rows)


def _node(mode: Mode) -> str:
    return mode.name.lower()


def _name(kind: type[Fact]) -> str:
    letters = (f" {c.lower()}" if c.isupper() else c for c in kind.__name__)
    return "".join(letters).strip()
