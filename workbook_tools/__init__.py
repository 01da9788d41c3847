"""Field workbooks for product display programs: write them, take them back, say what stands right."""

__version__ = "0.1.0"
