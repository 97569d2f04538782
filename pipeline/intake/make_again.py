"""Make everything again that can be made from the received files: the checked rows and the build.

For a build or checked rows that were found broken. What stands is replaced only by what is whole.
"""

from __future__ import annotations

from pathlib import Path

from pipeline.build import Progress, build_name
from pipeline.contract.findings import BookError
from pipeline.intake.load import book_lock
from pipeline.intake.set_aside import build_keys, check_or_set_aside
from pipeline.intake.write_faults import writing
from pipeline.renew import put_whole_build
from pipeline.store.book import Book
from pipeline.store.pruning import prune_builds, sweep
from pipeline.store.received import batches


def make_again(book: Book, progress: Progress | None = None) -> Path:
    """Check every received file again, build the whole book, publish; the file that is now current.

    BookError where nothing was received, or where the disk takes no more: then what stands stays. An `id.key` that is
    lost or broken is made anew; hidden ids then get other names, the same for all files.
    """
    book.refuse_pool()
    if not book.exists():
        book.current()  # says what is missing
    with book_lock(book), writing(book):
        sweep(book)
        everything = batches(book)
        if not everything:
            raise BookError(f"The book {book.path} holds no jobs yet; load a folder of job logs first.")
        book.renew_id_key()
        for batch in everything:
            check_or_set_aside(book, batch)
        ids = [batch.batch_id for batch in everything]
        build = book.builds / build_name(build_keys(book, ids), book.firm())
        put_whole_build(book, ids, build, progress)
        book.publish(build)
        prune_builds(book)
    return build
