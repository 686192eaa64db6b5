"""Every example in a docstring of this room runs and is right."""

import doctest
import importlib
import pkgutil

import pytest

import service.trends

MODULES = sorted(found.name for found in pkgutil.iter_modules(service.trends.__path__))


@pytest.mark.parametrize("name", MODULES)
def test_examples_of_a_module_are_right(name):
    assert doctest.testmod(importlib.import_module(f"service.trends.{name}")).failed == 0
