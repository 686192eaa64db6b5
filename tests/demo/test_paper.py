"""The round of the demonstration that waits for its signature has its paper, a question with its answer, labels and a drawing."""

from seed_data.faults import UNSIGNED
from seed_data.founding import ids_of
from seed_data.paper import ANSWER, QUESTION
from seed_data.people import actors
from service.domain.pictures import PictureKind
from service.domain.register import Noun
from service.domain.scans import Matched
from service.domain.words import RoundState
from service.storage.files import FileShelf
from service.storage.unit import Store
from service.usecases.labels.make import Wanted, read_choice
from service.usecases.pictures.see import list_round_pictures
from service.usecases.rounds.browse import list_rounds
from service.usecases.rounds.questions import list_questions
from service.usecases.rounds.sheet_scans import read_scans, see_scan
from tests.conftest import NOW
from tests.doors import files_of


def test_the_returned_round_has_a_scan_a_question_labels_and_a_drawing(demo_store: Store) -> None:
    engineer = actors(demo_store, ["r.amsel"], now=NOW)["r.amsel"]
    (round_,) = list_rounds(demo_store, engineer, states=(RoundState.RETURNED,))
    page = read_scans(demo_store, engineer, round_.id)
    (scan,) = [scan for stop in page.stops for scan in stop.scans]
    assert scan.matched is Matched.NAME
    content = see_scan(demo_store, engineer, round_.id, scan.uid, files=FileShelf(files_of(demo_store)))[1]
    assert content.startswith(b"\xff\xd8")
    (question,) = list_questions(demo_store, engineer, round_.id)
    assert (question.question, question.answer) == (QUESTION, ANSWER)
    assert question.asked_by != question.answered_by
    site_id = ids_of(demo_store, engineer, Noun.SITE)[UNSIGNED[0]]
    labelled = read_choice(demo_store, engineer, Wanted(site_id=site_id)).equipment
    assert labelled
    assert all(one.code for one in labelled)
    drawn = list_round_pictures(demo_store, engineer, round_.id).pictures
    assert [one.kind for one in drawn if one.kind is PictureKind.DRAWING] == [PictureKind.DRAWING]
