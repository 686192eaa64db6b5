"""A real Chromium for the modules of the field; see tests/browser/conftest.py."""

from tests.browser.conftest import chromium, visit

__all__ = ["chromium", "visit"]
