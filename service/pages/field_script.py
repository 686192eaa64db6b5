"""The app's modules as one script: a slow phone with no signal waits for each file that it opens.

The modules are written one by one and tested one by one. Here each becomes a function that is called when its
names are first asked for, under its path, and `import` becomes that call. What cannot be told in this way
(a default export, a name that is exported and changes) is refused here, not found out on a phone.
"""

import posixpath
import re
from functools import cache
from graphlib import CycleError, TopologicalSorter

from service.pages.templating import WEB

ENTRY = "app.js"
_IMPORT = re.compile(r'^import (\{[^}]*\}|\* as \w+) from "(\.[^"]+)";$', re.MULTILINE)
_LATER = re.compile(r'\bawait import\("(\.[^"]+)"\)')
_EXPORT = re.compile(r"^export (?=(?:async function|function|class|const) (\w+))", re.MULTILINE)
_NOTHING = re.compile(r"^export \{\};$", re.MULTILINE)
_LEFT = re.compile(r"^\s*(?:import|export)\b.*", re.MULTILINE)


def module_names() -> tuple[str, ...]:
    """Paths of the app's modules under web/field/, sorted."""
    folder = WEB / "field"
    found = (path for path in folder.rglob("*.js") if path.name != "worker.js")
    return tuple(sorted(path.relative_to(folder).as_posix() for path in found))


@cache
def app_script() -> str:
    """All of the app in one text, which begins with the module ``app.js``."""
    told = {name: (WEB / "field" / name).read_text(encoding="utf-8") for name in module_names()}
    return joined(told, entry=ENTRY)


def joined(modules: dict[str, str], *, entry: str) -> str:
    """Modules by their paths as one script that begins with ``entry``.

    Raises
    ------
    ValueError
        when a module imports what is not there, or says it in a way that is not understood here, and
        where modules need each other in a circle before any of them is made.

    Examples
    --------
    >>> "const { air } = $need('air.js');" in joined(
    ...     {"app.js": 'import { air } from "./air.js";', "air.js": "export const air = 21;"}, entry="app.js"
    ... )
    True
    """
    _refuse_circles(modules)
    made = "\n".join(f"{name!r}() {{\n{_called(name, text, modules)}\n}}," for name, text in modules.items())
    return (
        f"const $made = {{\n{made}\n}};\n"
        "const $kept = {};\n"
        "function $need(name) { return $kept[name] ??= $made[name](); }\n"
        f"$need({entry!r});\n"
    )


def _refuse_circles(modules: dict[str, str]) -> None:
    """What is imported on top is made first; what a function awaits may come round again."""
    needs = {
        name: {_path(name, found.group(2)) for found in _IMPORT.finditer(text)}
        for name, text in modules.items()
    }
    try:
        TopologicalSorter(needs).prepare()
    except CycleError as error:
        raise ValueError(f"modules need each other in a circle: {', '.join(error.args[1])}") from error


def _path(name: str, address: str) -> str:
    """Of the module that another names by an address beside its own."""
    return posixpath.normpath(posixpath.join(posixpath.dirname(name), address))


def _called(name: str, text: str, modules: dict[str, str]) -> str:
    """One module as the body of a function that gives what it exports."""

    def needed(address: str) -> str:
        path = _path(name, address)
        if path not in modules:
            raise ValueError(f"{name} imports {address}, which is not there")
        return f"$need({path!r})"

    def imported(found: re.Match[str]) -> str:
        names, address = found.groups()
        bound = names.removeprefix("* as ") if names.startswith("*") else names.replace(" as ", ": ")
        return f"const {bound} = {needed(address)};"

    given = [found.group(1) for found in _EXPORT.finditer(text)]
    text = _IMPORT.sub(imported, text)
    text = _LATER.sub(lambda found: needed(found.group(1)), text)
    text = _NOTHING.sub("", _EXPORT.sub("", text))
    if left := _LEFT.search(text):
        raise ValueError(f"{name}: this import or export is not understood: {left.group().strip()}")
    return f"{text}\nreturn {{ {', '.join(given)} }};"
