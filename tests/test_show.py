"""What people see: the same facts on a terminal, in plain text and as JSON."""

import io
import sys
import types
from pathlib import Path

import numpy as np
import pytest
import soundfile
from rich.console import Console

from voicecount import cli
from voicecount.commands import inputs, journals, replay
from voicecount.commands.inputs import load_recogniser, progress
from voicecount.count.events import LineStored
from voicecount.count.ledger import Ledger, apply, fold
from voicecount.count.opening import open_case
from voicecount.count.roles import Role
from voicecount.errors import VoiceError
from voicecount.hear.heard import Heard, Outcome, Word
from voicecount.reasons import Reason
from voicecount.sheet.load import load_sheet
from voicecount.show.console import clock_time, console, printable
from voicecount.show.conversation import Conversation, Line, Printer
from voicecount.show.json_out import heard_object, replay_object
from voicecount.show.table import HeardTable
from voicecount.show.tally import tally_table
from voicecount.talk.reply import Reply, ReplyKind
from voicecount.testing.clock import FakeClock
from voicecount.words.grammar import Grammar, build_grammar
from voicecount.words.meaning import Form, Meaning

SHEET = load_sheet(Path(__file__).parent.parent / "grammars" / "first_try.yaml")


def terminal(width: int = 100) -> Console:
    return Console(file=io.StringIO(), force_terminal=True, width=width, color_system=None)


def shown(out: Console) -> str:
    assert isinstance(out.file, io.StringIO)
    return out.file.getvalue()


def unsure(text: str = "gauze", reason: Reason = Reason.NO_NUMBER) -> Heard:
    meaning = Meaning(Form.NAME, "gauze")
    return Heard(0, 1, 2, Outcome.UNSURE, meaning, text, reason=reason)


REPLY = Reply("Gauze, ten.", ReplyKind.READBACK)
SILENT = VoiceError("nothing can be played; connect a loudspeaker")


@pytest.mark.parametrize(
    ("seconds", "text"),
    [(0, "0:00.0"), (9.96, "0:10.0"), (59.94, "0:59.9"), (59.96, "1:00.0"), (3725.25, "62:05.2")],
)
def test_times_are_minutes_and_seconds(seconds: float, text: str) -> None:
    """Seconds are rounded before they are split, so that there is never a sixtieth one."""
    assert clock_time(seconds) == text


def test_text_cannot_steer_a_terminal() -> None:
    """Control and direction characters are shown as question marks."""
    assert printable("a\x1b[2Jb\nc\u202ed") == "a?[2Jb?c?d"


def test_a_conversation_keeps_time_speaker_words_and_outcome() -> None:
    """People and the assistant stand in it in the order of what happened."""
    told: list[Line] = []
    talk = Conversation(told.append)
    talk.heard(unsure(), Role.SCRUB)
    talk.heard(unsure(), None)
    talk.replied(3, REPLY)

    assert told == talk.lines
    assert [(line.time, line.who, line.words, line.outcome) for line in talk.lines] == [
        (1, "scrub", "gauze", "unsure"),
        (1, "someone", "gauze", "unsure"),
        (3, "assistant", "Gauze, ten.", "answered"),
    ]


def test_an_unspoken_reply_stands_once_and_its_cause_is_told_once_in_full() -> None:
    """The line is marked in place; the same cause again is only named."""
    told: list[Line] = []
    talk = Conversation(told.append)
    for _ in range(2):
        talk.replied(3, REPLY)
        talk.unspoken(3, REPLY, SILENT)

    assert [(line.words, line.outcome) for line in talk.lines] == [("Gauze, ten.", "unspoken")] * 2
    notes = [line.note for line in told if line.outcome == "unspoken"]
    assert notes == ["not spoken: nothing can be played; connect a loudspeaker", "not spoken"]


@pytest.mark.parametrize("out", [terminal(), console(io.StringIO())], ids=["terminal", "plain"])
def test_what_became_of_words_is_shown_in_words(out: Console) -> None:
    """Answered, unsure, ignored and unspoken differ without any colour."""
    out.file = io.StringIO()
    talk = Conversation(Printer(out))
    talk.heard(unsure(), Role.CIRCULATOR)
    ignored = Heard(0, 1, 2, Outcome.IGNORED, None, "", reason=Reason.NOT_FOR_US)
    talk.heard(ignored, Role.SCRUB)
    talk.replied(3, REPLY)
    talk.unspoken(3, REPLY, SILENT)
    text = shown(out)

    assert "circulator" in text
    assert "gauze  (not sure: an item was named without a number)" in text
    assert "(…; not taken: speech that fits nothing" in text
    assert "→ Gauze, ten." in text
    assert "(not spoken: nothing can be played" in text


def test_a_readable_pace_waits_longer_for_longer_lines() -> None:
    """Each printed line waits by its length, and never longer than 2.4 s."""
    clock = FakeClock()
    tell = Printer(terminal(), clock)
    for words in ("Ten.", "Gauze, ten, confirmed. Next, lap sponges.", "x" * 400):
        tell(Line(0, "assistant", words, "answered"))

    assert clock.slept == sorted(clock.slept)
    assert clock.slept[0] < 1
    assert clock.slept[-1] == 2.4


def ledger_with(counted: int) -> Ledger:
    opened = open_case(SHEET, at=0, software="t", recogniser="t", voice="t", told_apart=True)
    stored = LineStored(
        at=3,
        by=Role.SCRUB,
        item="towel_clip",
        numbers=tuple(range(1, counted + 1)),
        start=1,
        end=2,
        line=1,
        counted=counted,
        total=counted,
        expected=6,
        form=Form.RUN,
    )
    return apply(fold([opened]), stored)


def test_the_tally_tells_a_difference_by_shape_and_words() -> None:
    """A count that is not the sheet's number is marked and named; the sheet's stands beside."""
    out = terminal(120)
    out.print(tally_table(ledger_with(5)))
    (row,) = [line for line in shown(out).splitlines() if "towel clip" in line]

    assert "≠ 5" in row
    assert " 6 " in row
    assert "○ not confirmed" in row
    assert "differs from sheet" in row


def test_the_tally_never_reassures() -> None:
    """No word of the tally says that a count is right or that anything may be closed."""
    out = terminal(120)
    out.print(tally_table(ledger_with(6)))
    text = shown(out).lower()

    assert "two people decide" in text
    for word in ("correct", "safe", "ok", "complete", "close", "all counted", "match"):
        assert word not in text.replace("not counted", "").split()
        assert f" {word}." not in text


def test_replay_json_holds_every_item() -> None:
    """Each line of the sheet stands in ``items``, counted or not."""
    result = replay_object(ledger_with(5), [], Path("a.vcj"))

    assert list(result["items"]) == [item.id for item in SHEET.items]
    clip = result["items"]["towel_clip"]
    assert {key: clip[key] for key in ("counted", "expected", "confirmed", "flags")} == {
        "counted": 5,
        "expected": 6,
        "confirmed": False,
        "flags": ["differs_from_sheet", "not_confirmed"],
    }
    assert (clip["initial"], clip["expected_now"]) == (None, None)


def test_heard_json_holds_words_and_scores() -> None:
    """Words come with their times; scores are numbers or null."""
    meaning = Meaning(Form.RUN, "gauze", (1, 2), pieces=2)
    words = (Word("gauze", 0.12345, 0.5), Word("one", 0.6, 0.7))
    heard = Heard(1, 0.1, 0.9, Outcome.ACCEPTED, meaning, "gauze one", words, 4.56789)
    found = heard_object("f.wav", heard)

    assert found["words"][0] == {"word": "gauze", "start": 0.123, "end": 0.5}
    assert (found["margin"], found["ratio"], found["pieces"]) == (4.568, None, 2)


@pytest.mark.parametrize("width", [60, 120])
def test_the_table_of_answers_fits_the_terminal(width: int) -> None:
    """Wide terminals have columns, narrow ones let the words run on; no word is lost."""
    out = terminal(width)
    table = HeardTable(out)
    table.add("/a/very/long/folder/name/of/recordings/one.wav", unsure("gauze sponge"))
    text = " ".join(shown(out).split())

    assert "recordings/one.wav" in text
    assert "unsure" in text
    assert "gauze sponge (an item was named without a number)" in text


def test_progress_is_shown_only_on_a_terminal(monkeypatch: pytest.MonkeyPatch) -> None:
    """Where nobody looks nothing is drawn."""
    out = terminal()
    monkeypatch.setattr(inputs, "console", lambda _: out)
    with progress("long.wav", 10, shown=True) as done:
        done(5)
    drawn = shown(out)
    with progress("long.wav", 10, shown=False) as done:
        done(5)

    assert "long.wav" in drawn
    assert shown(out) == drawn


def test_vosk_tells_what_it_listens_for(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """A word that the model does not know is shown with what stands for it."""

    class Vosk:
        def prepare(self, _: Grammar) -> tuple[types.SimpleNamespace, ...]:
            known = types.SimpleNamespace(word="gauze", used_by="gauze", respelling=None)
            way = types.SimpleNamespace(words=("kit", "nor"))
            return known, types.SimpleNamespace(word="kittner", used_by="peanut", respelling=way)

    monkeypatch.setattr("voicecount.hear.vosk_engine.VoskRecogniser", Vosk)
    recogniser = load_recogniser("vosk", build_grammar(SHEET), SHEET.policy)

    assert isinstance(recogniser, Vosk)
    assert capsys.readouterr().err == (
        'voicecount: peanut: the model does not know "kittner" and listens for "kit nor" instead\n'
    )


def test_both_recognisers_are_loaded_for_agreement(monkeypatch: pytest.MonkeyPatch) -> None:
    """With "both", the embedded recogniser comes first and Vosk second."""
    monkeypatch.setattr(inputs, "_embedded", lambda _: types.SimpleNamespace(name="embedded 1"))
    monkeypatch.setattr(inputs, "_vosk", lambda _: types.SimpleNamespace(name="vosk 2"))
    both = load_recogniser("both", build_grammar(SHEET), SHEET.policy)

    assert both.name == "embedded 1 agreeing with vosk 2"
    assert cli._RECOGNISERS == inputs.RECOGNISERS


def test_the_demo_ends_with_the_next_thing_to_try(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    """Tally, journal and a command to go on with stand at the end."""
    recording = tmp_path / "demo.wav"
    soundfile.write(recording, np.zeros((16_000, 2), np.float32), 16_000)
    monkeypatch.setattr(replay, "DEMO_RECORDING", recording)
    monkeypatch.setattr(replay, "recogniser_for", lambda *_: types.SimpleNamespace(name="fake"))
    folder = tmp_path / "data"
    monkeypatch.setattr(journals.platformdirs, "user_data_path", lambda *_, **__: folder)
    code = cli.main(["demo", "--fast"])
    out = capsys.readouterr().out

    assert code == 0
    assert "Journal: " in out
    assert out.index("· not counted") < out.index("Journal: ") < out.index("\nNext: voicecount ")


def test_the_worker_hands_the_text_to_the_engine(monkeypatch: pytest.MonkeyPatch) -> None:
    """Text from standard input goes to the file named by the argument, more slowly than usual."""
    from voicecount.speak import worker  # noqa: PLC0415 - replaced parts come first

    calls: list[tuple[object, ...]] = []
    engine = types.SimpleNamespace(
        setProperty=lambda *what: calls.append(what),
        save_to_file=lambda *what: calls.append(what),
        runAndWait=lambda: calls.append(("run",)),
    )
    monkeypatch.setitem(sys.modules, "pyttsx3", types.SimpleNamespace(init=lambda: engine))
    monkeypatch.setattr(sys, "argv", ["worker", "out.wav"])
    monkeypatch.setattr(sys, "stdin", io.TextIOWrapper(io.BytesIO("Gäuze, ten.".encode())))
    worker.main()

    assert calls == [("rate", worker.RATE), ("Gäuze, ten.", "out.wav"), ("run",)]
