"""Writes the workbooks of this folder: the invented records of plain.csv, in the ways of
spreadsheets.
"""

import csv
import datetime
from pathlib import Path

import odf.opendocument
import odf.table
import odf.text
import xlsxwriter
import xlwt

HERE = Path(__file__).parent
with (HERE / "plain.csv").open(encoding="utf-8", newline="") as file:
    HEADER, *ROWS = csv.reader(file)


def value(text: str) -> str | float:
    try:
        return float(text)
    except ValueError:
        return text


VALUES = [[value(text) for text in row] for row in ROWS]


def workbook(name: str) -> xlsxwriter.Workbook:
    (HERE / name).parent.mkdir(exist_ok=True)
    made = xlsxwriter.Workbook(HERE / name)
    made.set_properties({"created": datetime.datetime(2026, 11, 25)})
    return made


def table(
    sheet: xlsxwriter.worksheet.Worksheet, top: int = 0, rows: list = VALUES, header: list = HEADER
) -> None:
    for place, row in enumerate([header, *rows], start=top):
        sheet.write_row(place, 0, row)


def plain(name: str) -> None:
    with workbook(name) as made:
        table(made.add_worksheet("Sheet1"))


def title_and_second_sheet() -> None:
    with workbook("title_and_second_sheet.xlsx") as made:
        made.add_worksheet("Read me").write(0, 0, "An invented trial")
        sheet = made.add_worksheet("June")
        sheet.write(0, 0, "Bake trial of June")
        table(sheet, top=3)
        made.add_worksheet("Chart")


def two_alike() -> None:
    with workbook("two_sheets_alike.xlsx") as made:
        table(made.add_worksheet("June"))
        table(made.add_worksheet("July"))


def merged_mixes() -> None:
    with workbook("merged_mixes.xlsx") as made:
        sheet = made.add_worksheet()
        table(sheet)
        for top in (1, 3, 5, 7):
            sheet.merge_range(top, 1, top + 1, 1, VALUES[top - 1][1])


def dates_and_times() -> None:
    """Loaf 3-1 has become a date, the day is one, and proof stands as a time of day."""
    with workbook("dates_and_times.xlsx") as made:
        date, clock = (
            made.add_format({"num_format": "d-mmm"}),
            made.add_format({"num_format": "h:mm"}),
        )
        sheet = made.add_worksheet()
        table(sheet, header=[{"proof_min": "Proof"}.get(name, name) for name in HEADER])
        for place, row in enumerate(VALUES, start=1):
            sheet.write(place, 0, f"{(place + 1) // 2}-{place}")
            sheet.write_datetime(place, 2, datetime.datetime(2026, 3, 1 + (place > 4)), date)
            sheet.write_number(place, 5, float(row[5]) / 1440, clock)
        sheet.write_datetime(3, 0, datetime.datetime(2026, 1, 3), date)
        sheet.write_datetime(5, 7, datetime.datetime(2026, 2, 4), date)


def everything_in_one() -> None:
    with workbook("everything_in_one.xlsx") as made:
        table(made.add_worksheet("Loaves"))
        scores = made.add_worksheet("Scores")
        for place, row in enumerate(
            [["loaf", "assessor", "attribute", "score"], [1, "anna", "openness", 7]]
        ):
            scores.write_row(place, 0, row)
        readings = made.add_worksheet("Readings")
        for place, row in enumerate([["loaf", "volume (ml)"], [1, 1609], [1, 1611]]):
            readings.write_row(place, 0, row)


def old_workbook() -> None:
    made = xlwt.Workbook()
    sheet = made.add_sheet("Loaves")
    for place, row in enumerate([HEADER, *VALUES]):
        for column, cell in enumerate(row):
            sheet.write(place, column, cell)
    made.save(HERE / "old_workbook.xls")


def open_document() -> None:
    made = odf.opendocument.OpenDocumentSpreadsheet()
    sheet = odf.table.Table(name="Loaves")
    for row in [HEADER, *VALUES]:
        line = odf.table.TableRow()
        for cell in row:
            if isinstance(cell, float):
                line.addElement(odf.table.TableCell(valuetype="float", value=cell))
            else:
                written = odf.table.TableCell(valuetype="string")
                written.addElement(odf.text.P(text=cell))
                line.addElement(written)
        sheet.addElement(line)
    made.spreadsheet.addElement(sheet)
    made.save(HERE / "open_document.ods")


if __name__ == "__main__":
    plain("workbook.xlsx")
    plain("workbook_in_folder/loaves.xlsx")
    plain("workbook_called.csv")
    title_and_second_sheet()
    two_alike()
    merged_mixes()
    dates_and_times()
    everything_in_one()
    old_workbook()
    open_document()
