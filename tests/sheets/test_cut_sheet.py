"""The rigger's paper, read back as text. Lengths are worked by hand in test_tables."""

from __future__ import annotations

import dataclasses
import io
import re
import shutil
import subprocess

import numpy as np
import pypdf
import pytest

from cutlist.sheets.cut_sheet import cut_sheet_pdf
from cutlist.sheets.labels import label_rows, labels_pdf
from cutlist.sheets.order_sheet import order_pdf
from cutlist.sheets.page import plan_html
from tests.sheets.conftest import HOSTILE
from tests.sheets.sample import workshop_plan

CUTS = """\
50 mm2 black Remnant 1 of 2: black end, 9400 mm
1 2 3 5080 mm
Offcut 5080 mm: label it black end and keep it. from 50 mm2 black, Remnant 1 of 2: black end
done cut tag at both ends pole, colour cut length mm ft in A: lug, strip, where B: lug, strip, where B against A shrink, fuse
1 S1 negative − black 1465 4 ft 9 3/4 in leaves 7935 mm 50 mm2 x M8 strip 22 mm, S1b negative (M8) 50 mm2 x M10 strip 22 mm, negative bus bar, stud 1 (M10) 90° clockwise 2 x 50 mm, shrink 19/6
2 S2 negative − black 1465 4 ft 9 3/4 in leaves 6470 mm 50 mm2 x M8 strip 22 mm, S2b negative (M8) 50 mm2 x M10 strip 22 mm, negative bus bar, stud 3 (M10) 90° clockwise 2 x 50 mm, shrink 19/6
3 inverter negative − black 1390 4 ft 6 3/4 in leaves 5080 mm 50 mm2 x M10 strip 22 mm, negative bus bar, stud 2 (M10) 50 mm2 x M8 strip 22 mm, inverter negative (M8) 0° 2 x 50 mm, shrink 19/6
50 mm2 red Remnant 2 of 2: red end, 9400 mm
4 5 6 7 8 4360 mm
Offcut 4360 mm: label it red end and keep it. from 50 mm2 red, Remnant 2 of 2: red end
done cut tag at both ends pole, colour cut length mm ft in A: lug, strip, where B: lug, strip, where B against A shrink, fuse
4 inverter positive + red 1490 4 ft 10 3/4 in leaves 7910 mm 50 mm2 x M10 strip 22 mm, positive bus bar, stud 2 (M10) 50 mm2 x M8 strip 22 mm, inverter positive (M8) 0° 2 x 50 mm, shrink 19/6
5 S1 positive + red 1465 4 ft 9 3/4 in leaves 6445 mm 50 mm2 x M8 strip 22 mm, S1a positive (M8) 50 mm2 x M10 strip 22 mm, positive bus bar, stud 1 (M10) 90° clockwise 2 x 50 mm, shrink 19/6 150 A bolt-down, at battery
6 S2 positive + red 1465 4 ft 9 3/4 in leaves 4980 mm 50 mm2 x M8 strip 22 mm, S2a positive (M8) 50 mm2 x M10 strip 22 mm, positive bus bar, stud 3 (M10) 90° clockwise 2 x 50 mm, shrink 19/6 150 A bolt-down, at battery
7 S1 jumper ∘ red 310 1 ft 0 1/4 in leaves 4670 mm 50 mm2 x M8 strip 22 mm, S1a negative (M8) 50 mm2 x M8 strip 22 mm, S1b positive (M8) 0° 2 x 50 mm, shrink 19/6
8 S2 jumper ∘ red 310 1 ft 0 1/4 in leaves 4360 mm 50 mm2 x M8 strip 22 mm, S2a negative (M8) 50 mm2 x M8 strip 22 mm, S2b positive (M8) 0° 2 x 50 mm, shrink 19/6
"""  # noqa: E501


def pages(pdf: bytes) -> list[str]:
    return [page.extract_text() for page in pypdf.PdfReader(io.BytesIO(pdf)).pages]


def flat(pdf: bytes) -> str:
    return re.sub(r"\s+", " ", " ".join(pages(pdf)))


def without_frame(pdf: bytes) -> str:
    """The text without what stands on every page."""
    lines = [line for page in pages(pdf) for line in page.splitlines()[1:]]
    return "\n".join(line for line in lines if not line.startswith("Local codes, the battery maker")) + "\n"


def test_cuts_whole(plan):
    text = without_frame(cut_sheet_pdf(plan))
    start, end = text.index("50 mm2 black"), text.index("Laying, in installing order")
    assert re.sub(r" *\n(?!\d+ |50 mm2 |Offcut |done )", " ", text[start:end]).rstrip() == CUTS.rstrip()


def test_laying_says_the_way_and_where_the_surplus_lies(plan):
    """S1 negative: shortest run up 710, across sqrt(240^2 + 230^2) = 332.415, down 150, less 51.504: 1140.911; surplus
    1526.340 - 1140.911 = 385.429. Laid by going 385.429 / 2 = 192.715 higher: up 902.7, down 342.7."""
    text = flat(cut_sheet_pdf(plan))
    assert "up 903 mm along shelf, left and in 332 mm, down 343 mm along shelf" in text
    assert "surplus 385 mm, way round, from" in text
    assert "up to 193 mm aside" in text


def test_terminations_give_torque_and_stack(plan):
    # 14 N m x 8.8507 = 123.9 in lb
    assert "positive bus bar, stud 2 M10 14 N m (124 in lb) inverter positive" in flat(cut_sheet_pdf(plan))
    assert "positive bus bar, stud 4 M10 14 N m (124 in lb) free" in flat(cut_sheet_pdf(plan))


def test_a_torque_that_nobody_gave_is_told(plan):
    told = "?: the job file gives no torque for this stud; take the figure of its maker."
    assert told not in flat(cut_sheet_pdf(plan))
    in_line = flat(cut_sheet_pdf(workshop_plan(in_line_fuse=True)))
    assert told in in_line
    assert "fuse holder of S1, battery side M8 ? S1 positive 1" in in_line


def test_what_must_be_settled_first_stands_before_the_cuts(plan):
    """Cables that meet as drawn: nobody may learn of it on the last page, with the cables cut."""
    meet = dataclasses.replace(plan, left_out=("Cables that meet: 3 pairs. Settle first.", "Ageing."))
    first = pages(cut_sheet_pdf(meet))[0]
    assert first.index("Cables that meet: 3 pairs.") < first.index("Cuts, in cutting order")
    assert first.index("This plan does not look at") < first.index("Ageing.")
    html = plan_html(meet)
    assert html.index("Cables that meet: 3 pairs.") < html.index('id="drawing"')


def test_clamps_have_a_column_only_where_there_are_clamps(plan):
    bare = tuple(dataclasses.replace(c, laid=dataclasses.replace(c.laid, clamps=())) for c in plan.cables)
    assert "clamps, from A" in flat(cut_sheet_pdf(plan))
    assert "clamps, from A" not in flat(cut_sheet_pdf(dataclasses.replace(plan, cables=bare, clamps=())))


def test_cautions_and_stop_mark_are_on_it(plan):
    text = flat(cut_sheet_pdf(plan))
    assert "local codes, the battery maker's manual and a licensed person come before it" in text
    assert "Stop mark: if a dry-fit differs from this sheet by more than 10 mm, stop cutting and plan again." in text
    assert "set the second lug to its angle before crimping" in text


def test_a_plan_that_fails_says_so_first(plan, failing_plan):
    words = "This plan does not meet every limit. Do not cut before that is settled."
    assert words in pages(cut_sheet_pdf(failing_plan))[0]
    assert words not in flat(cut_sheet_pdf(plan))


@pytest.mark.parametrize("make", [cut_sheet_pdf, order_pdf, labels_pdf])
def test_same_plan_same_bytes(plan, make):
    assert make(plan) == make(plan)


@pytest.mark.parametrize(("make", "wide"), [(cut_sheet_pdf, True), (order_pdf, True), (labels_pdf, False)])
def test_paper_follows_the_units(plan, inch_plan, make, wide):
    """A4 is 210 x 297 mm, US Letter 8.5 x 11 in; a point is 1/72 in."""
    for one, size in ((plan, (210 / 25.4 * 72, 297 / 25.4 * 72)), (inch_plan, (8.5 * 72, 11 * 72))):
        box = pypdf.PdfReader(io.BytesIO(make(one))).pages[0].mediabox
        found = (float(box.width), float(box.height))
        assert found == pytest.approx(size[::-1] if wide else size, abs=0.1)


@pytest.mark.parametrize("make", [cut_sheet_pdf, order_pdf, labels_pdf])
def test_hostile_names_are_printed_as_they_are(hostile_plan, make):
    """Letters from right to left come out of a PDF in drawing order, so that word is looked at by its letters."""
    text = re.sub(r"\s+", "", " ".join(pages(make(hostile_plan))))
    words = HOSTILE.split(" שלום")[0]
    assert re.sub(r"\s+", "", words) in text
    assert set("שלום") <= set(text)


@pytest.mark.parametrize("make", [cut_sheet_pdf, order_pdf, labels_pdf])
def test_only_the_compilers_own_fonts(plan, make):
    fonts = set()
    for page in pypdf.PdfReader(io.BytesIO(make(plan))).pages:
        for font in page["/Resources"]["/Font"].values():
            fonts.add(font.get_object()["/BaseFont"].split("+")[1].split("-")[0])
    assert fonts <= {"LibertinusSerif", "DejaVuSansMono"}


def test_every_piece_has_two_labels(large_plan):
    labels = label_rows(large_plan)
    assert len(labels) == 2 * 92
    assert len({label.text for label in labels}) == len(labels)
    assert flat(labels_pdf(large_plan)).count("bus bar, stud") == 2 * 31


def test_every_lead_of_sixty_is_on_the_sheet(large_plan):
    text = re.sub(r"\s+", "", flat(cut_sheet_pdf(large_plan)))
    for cable in large_plan.cables:
        assert cable.name.replace(" ", "") in text


@pytest.mark.parametrize("name", ["plan", "inch_plan", "large_plan", "hostile_plan"])
def test_codes_on_labels_read_back_as_the_text_beside_them(name, request, tmp_path):
    """Printed at 200 dots an inch and read by a decoder that knows nothing of the writer."""
    zxingcpp = pytest.importorskip("zxingcpp", reason="zxing-cpp is not installed: 2D codes are not read back")
    if shutil.which("pdftoppm") is None:
        pytest.skip("pdftoppm is not installed: labels are not made pictures")
    plan = request.getfixturevalue(name)
    (tmp_path / "labels.pdf").write_bytes(labels_pdf(plan))
    subprocess.run(["pdftoppm", "-r", "200", "-gray", "labels.pdf", "page"], cwd=tmp_path, check=True)
    texts: list[str] = []
    for picture in sorted(tmp_path.glob("page*.pgm")):
        _, size, _, dots = picture.read_bytes().split(b"\n", 3)
        width, height = map(int, size.split())
        texts += [code.text for code in zxingcpp.read_barcodes(np.frombuffer(dots, np.uint8).reshape(height, width))]
    assert sorted(texts) == sorted(label.text for label in label_rows(plan))


def test_a_letter_that_no_font_has_is_spelt_out():
    """U+0A00 is assigned to no letter: no font has it. Chinese prints so where no font for it is installed."""
    from tests.sheets.sample import workshop_plan

    odd = workshop_plan(string_name=lambda i: f"row\u0a00{i}")
    assert "rowU+0A00 1 positive" in flat(cut_sheet_pdf(odd))
    assert cut_sheet_pdf(odd) == cut_sheet_pdf(odd)


def test_cuts_in_inches(inch_plan):
    """Lengths worked by hand in test_tables; millimetres come up from 1463.675, 1489.075, 1390.65, 307.975;
    what is left comes down: 9400 - 2 x 1463.675 - 1390.65 = 5082 mm = 200.08 in."""
    text = flat(cut_sheet_pdf(inch_plan))
    for words in (
        "1 S1 negative − black 4 ft 9 5/8 in 1464 leaves 26 ft 0 3/8 in 1/0 AWG x M8 strip 7/8 in, S1b negative (M8)",
        "3 inverter negative − black 4 ft 6 3/4 in 1391 leaves 16 ft 8 in "
        "1/0 AWG x M10 strip 7/8 in, negative bus bar, stud 2 (M10)",
        "4 inverter positive + red 4 ft 10 5/8 in 1490 leaves 25 ft 11 3/8 in "
        "1/0 AWG x M10 strip 7/8 in, positive bus bar, stud 2 (M10)",
        "7 S1 jumper ∘ red 1 ft 0 1/8 in 308 leaves 15 ft 4 in 1/0 AWG x M8 strip 7/8 in, S1a negative (M8)",
    ):
        assert words in text
