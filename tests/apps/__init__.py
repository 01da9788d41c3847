"""Books in real spreadsheet programs: LibreOffice and Gnumeric, driven as a person would use them."""
