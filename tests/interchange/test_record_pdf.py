"""The record as PDF: tagged, its typeface inside, every page numbered, nothing fetched; and where it cannot be made."""

from __future__ import annotations

import io
import sys
from dataclasses import replace
from zoneinfo import ZoneInfo

import pytest
from pypdf import PdfReader

from lumenward.interchange.record import read_record
from lumenward.interchange.record_pdf import record_pdf
from lumenward.quantities import Refusal


@pytest.fixture
def record(house):
    acts = house.work("one-wagtail-34", stop="exterior")
    cycle = next(act.cycle for act in acts if act.cycle)
    return read_record(cycle, house.now, ZoneInfo("Europe/London"), "Lena Ruo")


def read(data: bytes) -> PdfReader:
    return PdfReader(io.BytesIO(data))


@pytest.mark.django_db
def test_the_pdf_is_tagged_with_its_typeface_inside_and_every_page_named_and_numbered(record) -> None:
    found = read(record_pdf(replace(record, demo=True)))
    root = found.trailer["/Root"]
    assert root["/MarkInfo"]["/Marked"]
    assert "/StructTreeRoot" in root and root["/Lang"].startswith("en")
    assert found.metadata is not None and found.metadata.title == f"Wagtail 34 01, cycle {record.cycle}"
    assert b"pdfuaid:part" in root["/Metadata"].get_object().get_data()
    fonts = [font.get_object() for page in found.pages for font in page["/Resources"]["/Font"].values()]
    inner = [font["/DescendantFonts"][0].get_object()["/FontDescriptor"].get_object() for font in fonts]
    assert inner and all("/FontFile2" in one or "/FontFile3" in one for one in inner)
    assert any("Atkinson" in str(font["/BaseFont"]) for font in fonts)
    for number, page in enumerate(found.pages, 1):
        text = page.extract_text()
        assert record.code in text and "DEMO, invented" in text
        assert f"page {number} of {len(found.pages)}" in text


@pytest.mark.django_db
def test_the_pdf_on_letter_says_what_the_page_says(record) -> None:
    found = read(record_pdf(record, "Letter"))
    box = found.pages[0].mediabox
    assert (round(box.width), round(box.height)) == (612, 792)
    text = " ".join(" ".join(page.extract_text() for page in found.pages).split())
    for line in record.lines:
        assert line.sentence in text
    assert record.proof.root in text.replace(" ", "")
    assert "licensed practice decide" in text and "DEMO" not in text


@pytest.mark.django_db
def test_another_paper_is_refused_with_what_is_allowed(record) -> None:
    with pytest.raises(Refusal) as refused:
        record_pdf(record, "A0")
    assert refused.value.code == "unknown-paper" and "A4, Letter" in refused.value.hint


@pytest.mark.django_db
def test_a_machine_without_the_libraries_says_so_in_a_sentence(record, monkeypatch) -> None:
    monkeypatch.setitem(sys.modules, "weasyprint", None)
    with pytest.raises(Refusal) as refused:
        record_pdf(record)
    assert refused.value.code == "no-pdf" and "libpango-1.0-0" in refused.value.hint
