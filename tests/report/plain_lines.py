"""Sections as the lines of plain text."""


def section_lines(sections):
    """The lines of sections with an empty line between them."""
    parts = [section.lines() for section in sections]
    return [line for lines in parts for line in (*lines, "")][:-1]
