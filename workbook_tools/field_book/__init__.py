"""The workbook that goes out: built once for a program, stamped for every store."""
