"""Text to the decoder's pieces and back."""

from hypothesis import given
from hypothesis import strategies as st

from voicecount.hear.embedded.encoder import weights_file
from voicecount.hear.embedded.pieces import Pieces, read_pieces

PIECES = Pieces(weights_file("tokenizer.bin"))


def test_the_file_holds_the_known_pieces() -> None:
    """The package's file lists 32,768 pieces."""
    assert len(read_pieces(weights_file("tokenizer.bin"))) == 32_768


@given(st.lists(st.from_regex(r"[A-Za-z]{1,9}|[0-9]{1,3}", fullmatch=True), min_size=1, max_size=8))
def test_text_comes_back(words: list[str]) -> None:
    """Splitting and joining gives the same text."""
    text = ", ".join(words) + "."

    assert PIECES.join(list(PIECES.split(text))) == text


def test_common_words_are_one_piece() -> None:
    """Words that the model knows are joined as far as they can be."""
    assert len(PIECES.split("one two three")) == 3
