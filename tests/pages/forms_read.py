"""A form of a page as a browser would send it back untouched."""

from html.parser import HTMLParser


class FormReader(HTMLParser):
    """Boxes of every form with one action: names and values; and every id of the page."""

    def __init__(self, action: str) -> None:
        super().__init__()
        self.action = action
        self.inside = False
        self.boxes: dict[str, str] = {}
        self.ids: set[str] = set()
        self.links: list[str] = []
        self._select = ""
        self._area = ""

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        given = {name: value or "" for name, value in attrs}
        if "id" in given:
            self.ids.add(given["id"])
        if tag == "a" and given.get("href", "").startswith("#field-"):
            self.links.append(given["href"][1:])
        if tag == "form":
            self.inside = given.get("action") == self.action
        if not self.inside or (tag != "option" and "name" not in given):
            return
        name = given.get("name", "")
        if tag == "input" and given.get("type") == "checkbox":
            if "checked" in given:
                self.boxes[name] = given["value"]
        elif tag == "input":
            self.boxes[name] = given.get("value", "")
        elif tag == "select":
            self._select = name
        elif tag == "textarea":
            self._area, self.boxes[name] = name, ""
        elif tag == "option" and ("selected" in given or self._select not in self.boxes):
            self.boxes[self._select] = given.get("value", "")

    def handle_data(self, data: str) -> None:
        if self._area:
            self.boxes[self._area] += data

    def handle_endtag(self, tag: str) -> None:
        if tag == "form":
            self.inside = False
        elif tag == "textarea":
            self._area = ""
        elif tag == "select":
            self._select = ""


def read_form(page: str, action: str) -> FormReader:
    reader = FormReader(action)
    reader.feed(page)
    return reader
