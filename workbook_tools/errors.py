"""The few things that stop a command; everything else is a finding in a table.

WorkbookToolsError
├── DefinitionError   a file in templates_src is written wrong
├── FolderError       the program folder, or a file in it, is missing, locked or cannot be written
├── SetupError        program.xlsx cannot be used until what `check` lists is mended
├── ClusterError      the cluster that was asked to read cannot be used
└── BuildError        a workbook could not be written as described
"""


class WorkbookToolsError(Exception):
    """Root of all errors a command turns into one sentence on stderr and exit status 2."""


class DefinitionError(WorkbookToolsError):
    """A sheet, block, column, choice or word is defined wrongly; the message names the file and the place."""


class FolderError(WorkbookToolsError):
    """A program folder or one of its files is missing, open elsewhere, or cannot be written."""


class SetupError(WorkbookToolsError):
    """The setup holds something that must be mended before books can be issued."""


class BuildError(WorkbookToolsError):
    """A writing library refused part of a workbook (it would have been dropped silently)."""


class ClusterError(WorkbookToolsError):
    """The cluster cannot be reached, has no workers, or its workers run another version of this program."""
