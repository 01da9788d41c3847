"""What all returns together say: flags, store states, the roll-up workbook and its plain tables."""
