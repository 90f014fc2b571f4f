"""Contents -> pages -> one PDF: the job book.

Templates have a file of their own: the book is for the bench or the screen and may be printed at any size, templates
may not.
"""

from collections.abc import Sequence

from profiles.book.assembly import assembly_chapter
from profiles.book.contents import BookContents
from profiles.book.cuts import cuts_chapter
from profiles.book.cutting import cutting_chapter, fence_chapter
from profiles.book.figures import accuracy_chapter, notes_chapter, wire_chapter
from profiles.book.foam import foam_chapter, layers_chapter
from profiles.book.front import before_chapter, front_chapter, front_picture
from profiles.book.joining import joining_chapter
from profiles.book.lists import block_list_chapter, template_map_chapter
from profiles.book.pages import BookPage, BookSettings, chapter_pages, lay_out_chapters, room_of
from profiles.book.shaping import shaping_chapter
from profiles.book.weight import afloat_chapter, weight_chapter


def book_pages(contents: BookContents, settings: BookSettings | None = None) -> tuple[BookPage, ...]:
    """All pages of the job book. Raises PaperError if a drawing does not fit on the paper."""
    settings = settings or BookSettings()
    room = room_of(settings)
    optional = (
        before_chapter(contents, room),
        foam_chapter(contents, room),
        wire_chapter(contents, room),
        layers_chapter(contents, room),
        cutting_chapter(contents, room),
        fence_chapter(contents, room),
        template_map_chapter(contents, room),
        shaping_chapter(contents, room),
        cuts_chapter(contents, room),
        assembly_chapter(contents, room),
        joining_chapter(contents, room),
        block_list_chapter(contents, room),
        accuracy_chapter(contents, room),
        weight_chapter(contents, room),
        afloat_chapter(contents, room),
        notes_chapter(contents, room),
    )
    chapters = [chapter for chapter in optional if chapter]
    unknown = dict.fromkeys([chapter.title for chapter in chapters], 0)
    picture = front_picture(contents, room, unknown)
    # The front page lists page numbers, which depend on its own height; that is the same whatever the numbers are.
    numbers = chapter_pages([front_chapter(contents, room, picture, unknown), *chapters], settings)
    first = front_chapter(contents, room, picture, {title: numbers[title] for title in unknown})
    return lay_out_chapters([first, *chapters], contents.heading, settings)


def book_pdf(pages: Sequence[BookPage], title: str) -> bytes:
    """The pages as one PDF with a bookmark for each chapter; the same pages give the same bytes.

    Raises StationerError, which says what to install, if the cairo library or the font is missing.
    """
    from profiles.paper.pdf import drawings_pdf  # loads the cairo library

    marks = [(chapter, page.number) for page in pages for chapter in page.begins]
    return drawings_pdf([page.drawing for page in pages], title=title, bookmarks=marks)
