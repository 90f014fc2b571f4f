"""Contents -> pages -> one PDF: the job book.

Templates stay in a file of their own: the book is read at the bench or on a screen and may be printed at any size,
templates may not.
"""

from collections.abc import Sequence

from profiles.book.assembly import assembly
from profiles.book.contents import BookContents
from profiles.book.cutting import cutting, fences
from profiles.book.figures import accuracy, notes, wire
from profiles.book.foam import foam, layers
from profiles.book.front import TITLE, before, front, front_picture
from profiles.book.lists import block_list, template_map
from profiles.book.pages import BookPage, BookSettings, begun, laid_out, room_of


def book_pages(contents: BookContents, settings: BookSettings | None = None) -> tuple[BookPage, ...]:
    """All pages of the job book. Raises PaperError when the paper has no room for a drawing."""
    settings = settings or BookSettings()
    room = room_of(settings)
    made = (
        before(room),
        foam(contents, room),
        layers(contents, room),
        cutting(contents, room),
        fences(contents, room),
        block_list(contents, room),
        template_map(contents, room),
        assembly(contents, room),
        wire(contents, room),
        accuracy(contents, room),
        notes(contents, room),
    )
    chapters = [chapter for chapter in made if chapter]
    unknown = dict.fromkeys([chapter.title for chapter in chapters], 0)
    picture = front_picture(contents, room)
    draft = begun([front(contents, room, picture, unknown), *chapters], settings)  # as high whatever it lists
    first = front(contents, room, picture, {title: draft[title] for title in unknown})
    return laid_out([first, *chapters], contents.heading, settings)


def chapter_pages(pages: Sequence[BookPage]) -> dict[str, int]:
    """Chapter -> the number of the page that it begins on, without the front page."""
    return {title: page.number for page in pages for title in page.begins if title != TITLE}


def book_pdf(pages: Sequence[BookPage], title: str) -> bytes:
    """The pages as one PDF with a bookmark for each chapter; the same pages give the same bytes.

    Raises StationerError with what to install when the cairo library or the font is missing.
    """
    from profiles.paper.pdf import drawings_pdf  # noqa: PLC0415 - loads the cairo library

    marks = [(chapter, page.number) for page in pages for chapter in page.begins]
    return drawings_pdf([page.drawing for page in pages], title=title, bookmarks=marks)
