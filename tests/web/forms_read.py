"""Forms of a page with what stands in them, as a browser would send them."""

from __future__ import annotations

from html.parser import HTMLParser


class _Forms(HTMLParser):
    def __init__(self) -> None:
        super().__init__()
        self.found: list[tuple[str, dict[str, str], list[tuple[str, str]]]] = []
        self.buttons: list[tuple[str, str]] = []
        self.at: dict[str, str] | None = None
        self.select = self.area = ""
        self.option = False

    def handle_starttag(self, tag, attrs):
        given = dict(attrs)
        name, value = given.get("name") or "", given.get("value") or ""
        if tag == "form":
            self.at, self.buttons = {}, []
            if given.get("method") == "post":
                self.found.append((given.get("action") or "", self.at, self.buttons))
        if self.at is None or (not name and tag != "option"):
            return
        if tag == "input" and given.get("type") in ("checkbox", "radio"):
            if "checked" in given:
                self.at[name] = value or "on"
        elif tag == "input" and given.get("type") != "file":
            self.at[name] = value
        elif tag == "button":
            self.buttons.append((name, value))
        elif tag == "select":
            self.select = name
        elif tag == "option" and self.select and (self.select not in self.at or "selected" in given):
            self.at[self.select], self.option = value, "value" not in given
        elif tag == "textarea":
            self.area, self.at[name] = name, ""

    def handle_endtag(self, tag):
        if tag == "form":
            self.at = None
        elif tag == "option":
            self.option = False
        elif tag == "select":
            self.select = ""
        elif tag == "textarea":
            self.area = ""

    def handle_data(self, data):
        if self.area and self.at is not None:
            self.at[self.area] += data
        if self.option and self.at is not None:  # without a value, its text is sent
            self.at[self.select] += data.strip()


def forms(page: str) -> list[tuple[str, dict[str, str], list[tuple[str, str]]]]:
    """Return address, fields and named buttons of every form of a page that stores something."""
    read = _Forms()
    read.feed(page)
    return read.found
