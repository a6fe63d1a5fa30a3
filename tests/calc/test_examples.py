"""The list of example calls keeps up with the sums."""

from tests.calc.examples import EXAMPLES, name, public_functions


def test_every_public_function_has_one_example() -> None:
    listed = sorted(name(function) for function, _ in EXAMPLES)

    assert listed == sorted(name(function) for function in public_functions())
