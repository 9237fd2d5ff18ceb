"""The same rows as files of every kind: CSV by Python's `csv`, XLSX by PyPI `openpyxl` and `XlsxWriter`
(ISO/IEC 29500), ODS by PyPI `odfpy` (ISO/IEC 26300). A row is a list of texts, numbers, days and None.
"""

import csv
import datetime
import re
import zipfile

import openpyxl
import xlsxwriter
from odf.opendocument import OpenDocumentSpreadsheet
from odf.table import Table, TableCell, TableRow
from odf.text import P

DAY, MOMENT = datetime.date, datetime.datetime


def written(value):
    """A value as the CSV has it."""
    if value is None:
        return ""
    if isinstance(value, MOMENT):
        return value.strftime("%Y-%m-%dT%H:%M:%S" if value.second else "%Y-%m-%dT%H:%M")
    return str(value)


def as_csv(path, rows, separator=","):
    guarded = [[re.sub(r"^('*=)", r"'\1", written(value)) for value in row] for row in rows]
    with open(path, "w", newline="", encoding="utf-8") as out:
        csv.writer(out, delimiter=separator).writerows(guarded)


def as_text_cells(sheet, rows):
    for line, row in enumerate(rows, 1):
        for column, value in enumerate(row, 1):
            if value is not None:
                cell = sheet.cell(line, column)
                cell.value = value
                if isinstance(value, str):
                    cell.data_type = "s"  # openpyxl would take "=HG-1" for a formula.


def as_xlsx(path, sheets, epoch=None, change=None):
    book = openpyxl.Workbook()
    if epoch:
        book.epoch = epoch
    book.remove(book.active)
    for name, rows in sheets.items():
        as_text_cells(book.create_sheet(name), rows)
    if change:
        change(book.worksheets[0])
    book.save(path)


def as_shared_texts(path, sheets):
    """As large programs write it: a number can be a formula, whose kept value has the noise of a double."""
    book = xlsxwriter.Workbook(path, {"strings_to_formulas": False, "strings_to_numbers": False})
    day = book.add_format({"num_format": "d mmm yy"})
    moment = book.add_format({"num_format": "m/d/yy h:mm"})
    for name, rows in sheets.items():
        sheet = book.add_worksheet(name)
        for line, row in enumerate(rows):
            for column, value in enumerate(row):
                if isinstance(value, float):
                    noise = value * (1 + 2**-52)
                    sheet.write_formula(line, column, f"={value}*1", None, noise)
                elif isinstance(value, DAY):
                    sheet.write_datetime(line, column, value, moment if isinstance(value, MOMENT) else day)
                elif value is not None:
                    sheet.write(line, column, value)
        # A form goes on below its last row with formulas that show nothing. (This library takes an
        # empty value for one that is not known, so it is a blank.)
        for line in range(len(rows), len(rows) + 3):
            sheet.write_formula(line, 0, '=IF(B9="", " ", B9)', None, " ")
            sheet.write(line, 1, "  ")
    book.close()


def ods_cell(value):
    if value is None:
        return TableCell()
    if isinstance(value, (int, float)):
        cell = TableCell(valuetype="float", value=repr(value))
    elif isinstance(value, (MOMENT, DAY)):
        cell = TableCell(valuetype="date", datevalue=value.isoformat())
    else:
        cell = TableCell(valuetype="string")
    # What is shown has other decimals and another order of days: only the value may count.
    shown = f"{value:.1f}" if isinstance(value, float) else value
    shown = value.strftime("%d.%m.%y") if isinstance(value, DAY) else str(shown)
    cell.addElement(P(text=shown))
    return cell


def as_ods(path, sheets, change=None):
    document = OpenDocumentSpreadsheet()
    for name, rows in sheets.items():
        table = Table(name=name)
        for row in rows:
            line = TableRow()
            for value in row:
                line.addElement(ods_cell(value))
            # As programs write it: nothing up to the last column.
            line.addElement(TableCell(numbercolumnsrepeated=16384 - len(row)))
            table.addElement(line)
        rest = TableRow(numberrowsrepeated=1048576 - len(rows))
        rest.addElement(TableCell(numbercolumnsrepeated=16384))
        table.addElement(rest)
        if change:
            change(table)
        document.spreadsheet.addElement(table)
    document.save(path)


def rezipped(path, parts):
    """Replaces parts of a packed file, or adds them."""
    with zipfile.ZipFile(path) as old:
        whole = {name: old.read(name) for name in old.namelist()}
    for name, change in parts.items():
        whole[name] = change(whole.get(name, b"")) if callable(change) else change
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as new:
        for name, content in whole.items():
            new.writestr(name, content)
