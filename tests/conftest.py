"""What the tests of several rooms need: the MusicXML schemas, a browser; and no cache but where a test asks for one."""

import os
import shutil
from collections.abc import Iterator
from importlib.util import find_spec
from pathlib import Path
from typing import Any

import pytest
from hypothesis import settings
from lxml import etree

from appui.cache import VARIABLE

# what a test finds must not depend on what was run before; commands that tests start inherit it
os.environ[VARIABLE] = "off"
# a busy machine is no fault of what is tested
settings.register_profile("untimed", settings(), deadline=None)
settings.load_profile("untimed")


@pytest.fixture(autouse=True)
def _no_terminal(monkeypatch: pytest.MonkeyPatch) -> None:
    """What is printed must not depend on the width of the terminal the tests are started from."""
    monkeypatch.delenv("COLUMNS", raising=False)


BROWSERS = ("chromium", "chromium-browser")
ARGUMENTS = (
    "--no-sandbox --disable-gpu --disable-background-networking --disable-component-update --disable-sync "
    "--no-first-run"
)
#  the two schemas MusicXML's own refers to on the net, with the attributes it takes from them
_XML = """<xs:schema xmlns:xs="http://www.w3.org/2001/XMLSchema" targetNamespace="http://www.w3.org/XML/1998/namespace">
<xs:attribute name="lang" type="xs:language"/><xs:attribute name="space" type="xs:NCName"/></xs:schema>"""
_XLINK = """<xs:schema xmlns:xs="http://www.w3.org/2001/XMLSchema" targetNamespace="http://www.w3.org/1999/xlink">
<xs:attribute name="href" type="xs:anyURI"/><xs:attribute name="type" type="xs:token"/>
<xs:attribute name="role" type="xs:token"/><xs:attribute name="title" type="xs:token"/>
<xs:attribute name="show" type="xs:token"/><xs:attribute name="actuate" type="xs:token"/></xs:schema>"""


class _Beside(etree.Resolver):
    #  lxml always gives the context, which its stubs do not know
    def resolve(self, system_url: str, public_id: str, context: Any = None) -> Any:
        del public_id
        text = {"xml.xsd": _XML, "xlink.xsd": _XLINK}.get(system_url.rsplit("/", 1)[-1])
        return self.resolve_string(text, context, base_url=system_url) if text else None


def _schema(package: str, *names: str) -> etree.XMLSchema:
    """A schema that a package ships, by the folders and file in it."""
    spec = find_spec(package)
    assert spec is not None
    assert spec.origin is not None
    parser = etree.XMLParser()
    parser.resolvers.add(_Beside())
    return etree.XMLSchema(etree.parse(Path(spec.origin).parent.joinpath(*names), parser))


@pytest.fixture(scope="session")
def schema() -> etree.XMLSchema:
    """The MusicXML schema partitura ships (3.1)."""
    return _schema("partitura", "assets", "musicxml.xsd")


@pytest.fixture(scope="session")
def schema_4() -> etree.XMLSchema:
    """The MusicXML 4.0 schema the package musicxml ships."""
    return _schema("musicxml", "generate_classes", "musicxml_4_0.xsd")


@pytest.fixture(scope="session")
def browser() -> Iterator[Any]:
    """Chromium; without it the tests are skipped, but fail where APPUI_NEEDS_CHROMIUM is 1."""
    found = next(filter(None, map(shutil.which, BROWSERS)), None)
    missing = None if found else f"NO BROWSER: none of {', '.join(BROWSERS)} is there, so the page is not opened at all"
    if missing and os.environ.get("APPUI_NEEDS_CHROMIUM") == "1":
        pytest.fail(missing)
    if missing:
        pytest.skip(missing)
    sync_api = pytest.importorskip("playwright.sync_api")
    with sync_api.sync_playwright() as playwright:
        opened = playwright.chromium.launch(executable_path=found, args=ARGUMENTS.split())
        yield opened
        opened.close()
