"""Words in a row, as a sentence has them."""

from eke.sentences import in_a_row


def test_in_a_row() -> None:
    assert in_a_row([]) == ""
    assert in_a_row(["a"]) == "a"
    assert in_a_row(["a", "b", "a"]) == "a and b"
    assert in_a_row(word for word in "abc") == "a, b and c"
