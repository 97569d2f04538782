"""The audit through the door is the audit of pages and commands."""

from __future__ import annotations

import pytest

from models.practice.audit import audit
from models.practice.cohort.audited_jobs import PracticeFrames, Scope
from models.refusals import NotEnoughData
from pipeline.contract.findings import BadInput
from pipeline.store.book import Book
from sludgebook import BookFrames, PracticeAudit, read_book


@pytest.fixture(scope="module")
def frames(small_book: Book) -> BookFrames:
    return read_book(small_book.path)


def test_it_gives_the_result_of_the_one_function_and_a_row_a_practice(frames: BookFrames) -> None:
    scope = Scope(first=frames.features["visit_date"].min())
    fitted = PracticeAudit(frames.firm, scope).fit(frames.jobs, frames.features, frames.outcomes, frames.callbacks)
    asked = PracticeFrames(frames.jobs, frames.features, frames.outcomes, frames.callbacks)
    result = audit(asked, frames.firm, scope)

    assert fitted.result_.as_dict() == result.as_dict()
    assert fitted.effects_ == {each.contrast: each for each in result.practices}
    assert fitted.table()["verdict"].tolist() == [each.verdict_words for each in result.practices]


def test_too_few_jobs_or_frames_without_keys_are_refused_in_words(frames: BookFrames) -> None:
    few = frames.features.iloc[:5]

    with pytest.raises(NotEnoughData, match="at least 20 jobs with follow-up"):
        PracticeAudit().fit(frames.jobs, few, frames.outcomes, frames.callbacks)
    nobody = PracticeAudit(scope=Scope(firms=("nobody",)))
    with pytest.raises(NotEnoughData, match="there are 0"):
        nobody.fit(frames.jobs, frames.features, frames.outcomes, frames.callbacks)
    with pytest.raises(BadInput, match="`callbacks` lacks job_id"):
        PracticeAudit().fit(
            frames.jobs, frames.features, frames.outcomes, frames.callbacks.rename(columns={"job_id": "id"})
        )
