"""Problems of a file are told in the order in which one goes through it."""

from service.intake.collecting import Problems


def told(*wheres: str) -> list[str]:
    problems = Problems()
    for where in wheres:
        problems.add(where, "", "", message="Wrong.", remedy="Mend it.")
    return [problem.where for problem in problems.in_row_order]


def test_rows_are_told_by_their_number_and_the_whole_file_first() -> None:
    assert told("row 12", "row 3", "file", "row 103", "row 3") == [
        "file",
        "row 3",
        "row 3",
        "row 12",
        "row 103",
    ]


def test_sheets_keep_the_order_in_which_they_were_met() -> None:
    found = told("sheet Sites, row 4", "sheet Areas, row 2", "sheet Sites, row 2")
    assert found == ["sheet Sites, row 2", "sheet Sites, row 4", "sheet Areas, row 2"]
