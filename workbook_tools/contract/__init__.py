"""The sheets that travel, described once: what is written, read back and validated derives from here."""
