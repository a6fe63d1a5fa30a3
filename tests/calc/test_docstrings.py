"""Every public function of the sums says what it rests on, when it refuses, and its source."""

import ast
import inspect
from collections.abc import Callable

import pytest

from tests.calc.examples import modules, name, public_functions

FUNCTIONS = {name(function): function for function in public_functions()}


def calls(tree: ast.AST) -> set[str]:
    """The names that are called in a piece of code, without their modules."""
    called = [node.func for node in ast.walk(tree) if isinstance(node, ast.Call)]
    return {
        func.attr if isinstance(func, ast.Attribute) else func.id
        for func in called
        if isinstance(func, ast.Attribute | ast.Name)
    }


def raisers() -> set[str]:
    """The functions and classes of the sums that can raise, by name, however deep down."""
    defined = [
        node
        for module in modules()
        for node in ast.parse(inspect.getsource(module)).body
        if isinstance(node, ast.FunctionDef | ast.ClassDef)
    ]
    found = {n.name for n in defined if any(isinstance(part, ast.Raise) for part in ast.walk(n))}
    while more := {n.name for n in defined if calls(n) & found} - found:
        found |= more
    return found


RAISERS = raisers()


@pytest.mark.parametrize("function", FUNCTIONS.values(), ids=FUNCTIONS.keys())
def test_a_docstring_states_equation_refusals_and_source(function: Callable[..., object]) -> None:
    written = inspect.getdoc(function) or ""
    body = written.partition("\n")[2]

    stated = "Definition:" in body or any(sign in body for sign in "=<>")
    assert stated, "no equation or definition"
    assert "\nSource: " in written, "no source"
    assert ("\nRaises:\n" in written) == (function.__name__ in RAISERS), "refusals"
