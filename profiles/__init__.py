"""Full-size templates for foam bodies that are cut out of blocks with a hot wire."""

__version__ = "0.1.0"
