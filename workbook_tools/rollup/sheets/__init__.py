"""The sheets of the roll-up workbook and of the client's copy, one module a kind of sheet."""
