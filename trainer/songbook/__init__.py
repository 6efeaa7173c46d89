"""The songbook: a learner's own charts, with versions, tags and sets.

`Songbook` is what the page and the terminal work with (`book`): write, save, find, copy, delete and
put back, share, compare, merge, and make an exercise of a song. `Sets` are songs in an order, with
the band's key for each (`sets`). `house` holds the songs that stand in every songbook from the
start, `song_text` reads texts, `playing` is how the band plays one, `compare`
lays two charts side by side, `archive` writes songs as one file, and `importing` adds the songs of
files and archives.

The room knows neither HTTP nor the terminal: store, learner and clock are arguments.
"""

from trainer.songbook.archive import MOST_ARCHIVE_BYTES, write_archive
from trainer.songbook.book import MOST_LISTENS, KeptDraft, SavedVersion, Songbook, clean_tags
from trainer.songbook.compare import (
    Agreement,
    ComparedBar,
    Comparison,
    FactDifference,
    Side,
    compare,
    merge,
)
from trainer.songbook.house import HOUSE_BAND, is_house
from trainer.songbook.importing import (
    IMPORT_SUFFIXES,
    ImportedFile,
    ImportReport,
    import_archive,
    import_file,
)
from trainer.songbook.playing import keys_of, play_song_text
from trainer.songbook.sets import Sets, SongInSet
from trainer.songbook.song_text import MOST_TEXT, UNTITLED, in_key, read_song, title_of

__all__ = [
    "HOUSE_BAND",
    "IMPORT_SUFFIXES",
    "MOST_ARCHIVE_BYTES",
    "MOST_LISTENS",
    "MOST_TEXT",
    "UNTITLED",
    "Agreement",
    "ComparedBar",
    "Comparison",
    "FactDifference",
    "ImportReport",
    "ImportedFile",
    "KeptDraft",
    "SavedVersion",
    "Sets",
    "Side",
    "SongInSet",
    "Songbook",
    "clean_tags",
    "compare",
    "import_archive",
    "import_file",
    "in_key",
    "is_house",
    "keys_of",
    "merge",
    "play_song_text",
    "read_song",
    "title_of",
    "write_archive",
]
