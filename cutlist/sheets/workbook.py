"""The order list as a spreadsheet (XLSX), put together directly: the format is a zip of small XML files.

Written by hand because the sums must be live formulas that also carry their value, for viewers that do not calculate,
and because the same plan must give the same bytes. Text stands in cells of type text and can never run.
Source: ECMA-376, Office Open XML, parts 1 and 2.
"""

from __future__ import annotations

import io
import zipfile
from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from xml.sax.saxutils import escape

from cutlist.sheets.cautions import cautions_at
from cutlist.sheets.order_rows import (
    ALTERNATES_BASIS,
    Ordered,
    OrderRow,
    alternate_rows,
    assumptions,
    missing_text,
    order_rows,
)

HEADS = ("What", "Order", "Unit", "Needed", "From stock", "Left over", "Unit price", "Price", "Why")
WIDTHS = (44, 8, 16, 26, 26, 26, 12, 12, 70)
EARLIEST = (1980, 1, 1, 0, 0, 0)  # the zip format's own zero: no clock in the file

# styles by their place in STYLES below
PLAIN, BOLD, MONEY, BOLD_MONEY, WRAPPED = range(5)


@dataclass(frozen=True)
class Cell:
    value: str | int | Decimal
    style: int = PLAIN
    formula: str = ""


def order_xlsx(plan: Ordered) -> bytes:
    """Assumptions on top, then a line for each thing, then the total. Prices are quantity times unit price, live."""
    rows: list[list[Cell]] = [[Cell(f"Order list: {plan.name}", BOLD)]]
    rows += [[Cell(line)] for line in (*assumptions(plan), *cautions_at("order"))]
    rows.append([])
    rows.append([Cell(head, BOLD) for head in HEADS])
    first = len(rows) + 1
    lines = order_rows(plan)
    for number, line in enumerate(lines, start=first):
        rows.append(_line(line, number))
    total = Cell(plan.order.total, BOLD_MONEY, f"SUM(H{first}:H{first + len(lines) - 1})" if lines else "")
    rows.append(
        [Cell(f"Total of known prices, {plan.order.currency}", BOLD), *[Cell("")] * 6, total, Cell(missing_text(plan))]
    )
    if plan.alternates:
        rows += [
            [],
            [Cell("Other ways of buying the cable, cost of cable against this order", BOLD)],
            [Cell(ALTERNATES_BASIS)],
        ]
        rows += [[Cell(text) for text in row] for row in alternate_rows(plan)]
    return _zipped(
        {
            "[Content_Types].xml": CONTENT_TYPES,
            "_rels/.rels": RELATIONS,
            "xl/workbook.xml": WORKBOOK,
            "xl/_rels/workbook.xml.rels": WORKBOOK_RELATIONS,
            "xl/styles.xml": STYLES,
            "xl/worksheets/sheet1.xml": _sheet(rows, head_row=first - 1),
        }
    )


def _line(row: OrderRow, number: int) -> list[Cell]:
    if not row.quantity:
        price, unit_price = Cell(""), Cell("")
    elif row.amount is None or row.unit_amount is None:
        price, unit_price = Cell("missing" if row.amount is None else row.amount, MONEY), Cell(row.unit_price)
    else:
        unit_price = Cell(row.unit_amount, MONEY)
        exact = row.unit_amount * row.quantity == row.amount
        price = Cell(row.amount, MONEY, f"B{number}*G{number}" if exact else "")
    return [
        Cell(row.description),
        Cell(row.quantity),
        Cell(row.unit),
        *(Cell(int(text) if text.isdigit() else text) for text in (row.needed, row.on_hand, row.remains)),
        unit_price,
        price,
        Cell("; ".join(row.why), WRAPPED),
    ]


def _sheet(rows: Sequence[Sequence[Cell]], head_row: int) -> str:
    columns = "".join(f'<col min="{i}" max="{i}" width="{w}" customWidth="1"/>' for i, w in enumerate(WIDTHS, start=1))
    body = "".join(
        f'<row r="{r}">' + "".join(_cell(f"{chr(64 + c)}{r}", cell) for c, cell in enumerate(row, start=1)) + "</row>"
        for r, row in enumerate(rows, start=1)
    )
    frozen = (
        f'<sheetViews><sheetView workbookViewId="0"><pane ySplit="{head_row}" topLeftCell="A{head_row + 1}" '
        f'activePane="bottomLeft" state="frozen"/></sheetView></sheetViews>'
    )
    return (
        f'{DECLARATION}<worksheet xmlns="{MAIN}"><sheetPr><pageSetUpPr fitToPage="1"/></sheetPr>{frozen}'
        f"<cols>{columns}</cols><sheetData>{body}</sheetData>"
        f'<pageSetup orientation="landscape" fitToHeight="0"/></worksheet>'
    )


def _cell(at: str, cell: Cell) -> str:
    if isinstance(cell.value, str):
        if not cell.value:
            return ""
        text = escape(cell.value)
        return f'<c r="{at}" s="{cell.style}" t="inlineStr"><is><t xml:space="preserve">{text}</t></is></c>'
    formula = f"<f>{cell.formula}</f>" if cell.formula else ""
    figure = f"{cell.value:f}" if isinstance(cell.value, Decimal) else str(cell.value)
    return f'<c r="{at}" s="{cell.style}">{formula}<v>{figure}</v></c>'


def _zipped(parts: dict[str, str]) -> bytes:
    whole = io.BytesIO()
    with zipfile.ZipFile(whole, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, text in parts.items():
            archive.writestr(zipfile.ZipInfo(name, EARLIEST), text, zipfile.ZIP_DEFLATED)
    return whole.getvalue()


DECLARATION = '<?xml version="1.0" encoding="UTF-8" standalone="yes"?>\n'
MAIN = "http://schemas.openxmlformats.org/spreadsheetml/2006/main"
PACKAGE = "http://schemas.openxmlformats.org/package/2006"
OFFICE = "http://schemas.openxmlformats.org/officeDocument/2006/relationships"
SHEET_TYPE = "application/vnd.openxmlformats-officedocument.spreadsheetml"

CONTENT_TYPES = (
    f'{DECLARATION}<Types xmlns="{PACKAGE}/content-types">'
    '<Default Extension="rels" ContentType="application/vnd.openxmlformats-package.relationships+xml"/>'
    '<Default Extension="xml" ContentType="application/xml"/>'
    f'<Override PartName="/xl/workbook.xml" ContentType="{SHEET_TYPE}.sheet.main+xml"/>'
    f'<Override PartName="/xl/worksheets/sheet1.xml" ContentType="{SHEET_TYPE}.worksheet+xml"/>'
    f'<Override PartName="/xl/styles.xml" ContentType="{SHEET_TYPE}.styles+xml"/></Types>'
)
RELATIONS = (
    f'{DECLARATION}<Relationships xmlns="{PACKAGE}/relationships">'
    f'<Relationship Id="rId1" Type="{OFFICE}/officeDocument" Target="xl/workbook.xml"/></Relationships>'
)
WORKBOOK = (
    f'{DECLARATION}<workbook xmlns="{MAIN}" xmlns:r="{OFFICE}">'
    '<sheets><sheet name="Order" sheetId="1" r:id="rId1"/></sheets></workbook>'
)
WORKBOOK_RELATIONS = (
    f'{DECLARATION}<Relationships xmlns="{PACKAGE}/relationships">'
    f'<Relationship Id="rId1" Type="{OFFICE}/worksheet" Target="worksheets/sheet1.xml"/>'
    f'<Relationship Id="rId2" Type="{OFFICE}/styles" Target="styles.xml"/></Relationships>'
)
# plain; bold; money; bold money; wrapped. Number format 4 is #,##0.00.
STYLES = (
    f'{DECLARATION}<styleSheet xmlns="{MAIN}">'
    '<fonts count="2"><font><sz val="11"/></font>'
    '<font><b/><sz val="11"/></font></fonts>'
    '<fills count="2"><fill><patternFill patternType="none"/></fill>'
    '<fill><patternFill patternType="gray125"/></fill></fills>'
    '<borders count="1"><border><left/><right/><top/><bottom/><diagonal/></border></borders>'
    '<cellStyleXfs count="1"><xf numFmtId="0" fontId="0" fillId="0" borderId="0"/></cellStyleXfs>'
    '<cellXfs count="5"><xf numFmtId="0" fontId="0" fillId="0" borderId="0" xfId="0"/>'
    '<xf numFmtId="0" fontId="1" fillId="0" borderId="0" xfId="0" applyFont="1"/>'
    '<xf numFmtId="4" fontId="0" fillId="0" borderId="0" xfId="0" applyNumberFormat="1"/>'
    '<xf numFmtId="4" fontId="1" fillId="0" borderId="0" xfId="0" applyNumberFormat="1" applyFont="1"/>'
    '<xf numFmtId="0" fontId="0" fillId="0" borderId="0" xfId="0" applyAlignment="1">'
    '<alignment wrapText="1" vertical="top"/></xf>'
    '</cellXfs><cellStyles count="1"><cellStyle name="Normal" xfId="0" builtinId="0"/></cellStyles></styleSheet>'
)
