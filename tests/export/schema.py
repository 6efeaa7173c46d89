"""The official schema of MusicXML 4.0, from the package `musicxml`, which carries it.

The schema names two others by address. The package `xmlschema` carries both, as the W3C has them.
"""

from __future__ import annotations

from functools import cache
from importlib.resources import files

from lxml import etree

__all__ = ["assert_valid", "score_schema"]

PLACES = {
    "xml.xsd": ("xmlschema", "schemas/XML/xml.xsd"),
    "xlink.xsd": ("xmlschema", "schemas/XLINK/xlink.xsd"),
}


class _FromPackages(etree.Resolver):  # type: ignore[misc]  # lxml has no types
    """Finds the two schemas in a package; nothing is fetched."""

    def resolve(self, url: str, _: object, context: object) -> object:
        """The schema that an address names."""
        package, path = PLACES[url.rpartition("/")[2]]
        return self.resolve_string(files(package).joinpath(path).read_bytes(), context)


@cache
def score_schema() -> etree.XMLSchema:
    """The schema of a whole score."""
    parser = etree.XMLParser(no_network=True)
    parser.resolvers.add(_FromPackages())
    content = files("musicxml").joinpath("generate_classes/musicxml_4_0.xsd").read_bytes()
    return etree.XMLSchema(etree.fromstring(content, parser, base_url="https://schema/x.xsd"))


def assert_valid(content: bytes) -> None:
    """Fail unless the schema allows a file."""
    score_schema().assertValid(etree.fromstring(content, etree.XMLParser(no_network=True)))
