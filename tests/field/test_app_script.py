"""Field's modules as the one script that a phone opens."""

from collections.abc import Callable

import pytest

from service.pages.field_script import app_script, joined, module_names
from tests.browser.conftest import Visitor
from tests.field.device import device

MODULES = {
    "app.js": (
        'import { warm as above, heard } from "./air.js";\n'
        'import * as air from "./air.js";\n'
        "globalThis.told = (async () => {\n"
        '  const { say } = await import("./screens/view.js");\n'
        "  return [above(20), air.warm(1), say(), say(), heard.length];\n"
        "})();"
    ),
    "air.js": "export const heard = [];\nexport function warm(air) { return air + rise; }\nconst rise = 5;",
    "screens/view.js": (
        'import {\n  heard,\n  warm,\n} from "../air.js";\n'
        "/** A screen. */\nexport function say() { heard.push(1); return warm(heard.length); }\n"
        "export {};"
    ),
}


def test_modules_of_one_script_share_what_they_keep(visit: Callable[[str], Visitor]) -> None:
    page = device(visit)
    page.add_script_tag(content=joined(MODULES, entry="app.js"))
    assert page.evaluate("globalThis.told") == [25, 6, 6, 7, 2]


@pytest.mark.parametrize(
    ("text", "why"),
    [
        ('import { wind } from "./wind.js";', r"app\.js imports \./wind\.js, which is not there"),
        ('import wind from "./air.js";', "not understood: import wind from"),
        ("export default 3;", "not understood: export default 3;"),
        ("export let lit = true;", "not understood: export let lit"),
        ('export { warm } from "./air.js";', "not understood: export"),
    ],
)
def test_a_module_that_cannot_be_joined_is_named(text: str, why: str) -> None:
    with pytest.raises(ValueError, match=why):
        joined(MODULES | {"app.js": text}, entry="app.js")


def test_modules_that_need_each_other_in_a_circle_were_found_out_on_a_phone() -> None:
    """Each is made when it is first asked for: round and round, until the browser gives up."""
    back = 'import { say } from "./screens/view.js";\n' + MODULES["air.js"]
    with pytest.raises(ValueError, match=r"in a circle: .*air\.js"):
        joined(MODULES | {"air.js": back}, entry="app.js")
    later = 'export const say = async () => await import("./screens/view.js");'
    assert "$need('screens/view.js')" in joined(
        MODULES | {"air.js": f"{MODULES['air.js']}\n{later}"}, entry="app.js"
    )


def test_every_module_of_the_app_is_in_the_script() -> None:
    script = app_script()
    assert [name for name in module_names() if f"{name!r}() {{" not in script] == []
    assert "worker.js" not in module_names()
