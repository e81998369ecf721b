"""Pages read back with the standard library's parser."""

from __future__ import annotations

from html.parser import HTMLParser

VOID = {"meta", "link", "input", "img", "br", "hr", "col"}


class Read(HTMLParser):
    """Elements in order, as (tag, attributes, words inside); complains of tags that are not closed in order."""

    def __init__(self, html):
        super().__init__(convert_charrefs=True)
        self.open, self.elements, self.faults = [], [], []
        self.feed(html)
        self.close()
        self.faults += [f"{tag} is not closed" for tag, _, _ in self.open]

    def handle_starttag(self, tag, attrs):
        element = (tag, dict(attrs), [])
        if len(dict(attrs)) != len(attrs):
            self.faults.append(f"{tag} has an attribute twice")
        self.elements.append(element)
        if tag not in VOID:
            self.open.append(element)
        elif tag == "br":
            self.handle_data(" ")

    def handle_startendtag(self, tag, attrs):
        self.elements.append((tag, dict(attrs), []))

    def handle_endtag(self, tag):
        if not self.open or self.open.pop()[0] != tag:
            self.faults.append(f"{tag} is closed out of order")

    def handle_data(self, data):
        for _, _, words in self.open:
            words.append(data)

    def all(self, *tags):
        return [(attrs, " ".join("".join(words).split())) for tag, attrs, words in self.elements if tag in tags]

    @property
    def text(self):
        return self.all("body")[0][1]
