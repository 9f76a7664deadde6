"""The workbook as plain pages: what a chapter shows, for reading where no Python runs and no network is.

A worked chapter is run once (`record`). What its viewers show is written down as
numbers (`scenes`, `figures`, `panels`), and a script of our own draws these numbers
again (`assets/`): it needs no library, so a page asks nobody for anything. Texts and
cells become HTML with nbconvert's Markdown and Pygments (`text`), the learner's copy
and the worked one are laid into each other (`cells`), and `site` writes the files.
"""


def build(out, chapters=(), single=False, say=lambda line: None):
    """Write the book to the folder `out`; returns the paths written, the index or the single files first.

    chapters: ids such as "06", all when empty. single: each chapter as one file that
    needs nothing beside it. say(line): called with each step. Raises ValueError for an
    unknown chapter, a folder that holds something else, or a chapter that does not run.
    """
    from rigkit.book import site

    return site.build(out, chapters, single, say)
