"""Every example in a docstring of this room runs and is right."""

import doctest
import importlib
import pkgutil

import pytest

import service.physics

MODULES = sorted(found.name for found in pkgutil.iter_modules(service.physics.__path__))
CARRIES_NO_FUNCTION = {"refusals"}


@pytest.mark.parametrize("name", MODULES)
def test_examples_of_a_module_are_right(name: str) -> None:
    module = importlib.import_module(f"service.physics.{name}")
    found = doctest.testmod(module)
    assert found.failed == 0
    assert found.attempted > 0 or name in CARRIES_NO_FUNCTION
