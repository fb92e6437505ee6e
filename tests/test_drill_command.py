"""``voicecount drill``: good and bad input, with a recogniser that hears what it is told to."""

import argparse
import json
import re
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import soundfile

from voicecount.cli_drill import add_drill
from voicecount.commands import drill as drill_module
from voicecount.commands import drill_start as start_module
from voicecount.commands.ears import Ears
from voicecount.drill.document import CAUTION
from voicecount.drill.load import load_drill, shipped
from voicecount.drill.store import Attempts, AttemptsError, Kept, State
from voicecount.errors import VoicecountError, VoiceError
from voicecount.hear.heard import Heard, Outcome, Word
from voicecount.keep.settings import Settings
from voicecount.sound.frame import RATE, Utterance
from voicecount.testing.sound import FakeSource
from voicecount.testing.voice import FakeSpeaker, FakeVoice
from voicecount.words.grammar import Grammar
from voicecount.words.meaning import Form, Meaning

ROOT = Path(__file__).parent.parent
DRILL = shipped()[0].stem
"""The easiest drill."""
NUMBERS = ("one", "two", "three", "four", "five")


class Hearing:
    """Hears the first line of the drill in every utterance, one number after the other."""

    name = "fake"

    def hear(self, utterance: Utterance, _grammar: Grammar) -> Heard:
        item = load_drill(DRILL).drill.table[0].item
        step = (utterance.end - utterance.start) / len(NUMBERS)
        words = tuple(
            Word(word, utterance.start + at * step, utterance.start + (at + 0.8) * step)
            for at, word in enumerate(NUMBERS)
        )
        meaning = Meaning(Form.RUN, item, (1, 2, 3, 4, 5))
        span = (utterance.channel, utterance.start, utterance.end)
        return Heard(*span, Outcome.ACCEPTED, meaning, " ".join(NUMBERS), words)


@pytest.fixture(autouse=True)
def fakes(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    """Hear and speak by fakes, in a folder of its own, and remember nothing of this machine."""
    for module in (drill_module, start_module):
        monkeypatch.setattr(module, "load_recogniser", lambda *_: Hearing())
    monkeypatch.setattr(start_module, "choose_voice", lambda *_, **__: FakeVoice())
    monkeypatch.setattr("voicecount.keep.settings.settings_path", lambda: tmp_path / "s.json")
    monkeypatch.chdir(tmp_path)


@pytest.fixture(scope="module")
def recording(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Give a short stretch of the demo's voices."""
    path = tmp_path_factory.mktemp("drill") / "hand in.wav"
    sound, rate = soundfile.read(
        ROOT / "audio_fixtures/caesarean.flac", frames=9 * RATE, dtype="float32"
    )
    soundfile.write(path, sound[:, 0], rate)
    return path


def run(*arguments: object) -> None:
    """Run the command as the command line does."""
    parser = argparse.ArgumentParser(exit_on_error=False)
    add_drill(parser.add_subparsers(dest="command"))
    parsed = parser.parse_args(["drill", *map(str, arguments)])
    parsed.run(parsed)


def only(folder: str = "drill-attempts") -> Kept:
    """Give the one attempt of a folder."""
    (kept,) = Attempts(Path(folder)).all()
    return kept


def flat(text: str) -> str:
    """Put a table's lines together."""
    return re.sub(r"[\s│┃]+", " ", text)


def test_the_drills_are_listed_by_level_with_the_caution(
    capsys: pytest.CaptureFixture[str],
) -> None:
    """Every drill that ships has its name and its level; the caution stands below."""
    run("list")
    out = flat(capsys.readouterr().out)

    assert all(path.stem in out for path in shipped())
    assert CAUTION in out


def test_a_recording_that_is_handed_in_is_judged_and_kept(
    recording: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """A table, the summary and the page; sound, words, judgement and page are kept."""
    run("judge", DRILL, recording, "--student", "anna-1")
    out = flat(capsys.readouterr().out)
    kept = only()
    sound, rate = soundfile.read(kept.sound, dtype="float32")
    source, _ = soundfile.read(recording, dtype="float32")

    assert kept.state is State.JUDGED
    assert kept.head.student == "anna-1"
    assert kept.head.drill == DRILL
    assert not kept.attempt().cues_known
    assert rate == RATE
    assert np.array_equal(sound, source)
    assert "Every item named" in out
    assert CAUTION in out
    assert str(kept.page) in out
    assert kept.page.read_text().startswith("<!DOCTYPE html>")


def test_json_is_one_object_and_nothing_else(
    recording: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """The judgement with its score; where the page is stands beside the output."""
    run("judge", DRILL, recording, "--to", "mine", "--json")
    told = capsys.readouterr()
    judgement = json.loads(told.out)

    assert judgement["score"] == only("mine").judgement().score
    assert {"steps", "findings", "not_heard", "marks"} <= judgement.keys()
    assert "page.html" in told.err


def test_the_partners_words_are_read_from_beside_the_recording(
    recording: Path, tmp_path: Path
) -> None:
    """With them the cues are known."""
    mine = tmp_path / "r.wav"
    mine.write_bytes(recording.read_bytes())
    said = [{"cue": "scene", "words": "A table.", "start": 0.0, "end": 0.4}]
    (tmp_path / "r.wav.said.json").write_text(json.dumps(said))
    run("judge", DRILL, mine)
    attempt = only().attempt()

    assert attempt.cues_known
    assert [one.words for one in attempt.said] == ["A table."]
    assert only().said() == attempt.said
    assert drill_module.cues_of(only().sound) == attempt.said


def bad(tmp_path: Path) -> dict[str, tuple[list[object], str]]:
    """Give calls that cannot work, with what is told."""
    text = tmp_path / "text.wav"
    text.write_text("no sound")
    said = tmp_path / "text.wav.said.json"
    said.write_text("{")
    return {
        "no drill": (["judge", "no_such_drill", text], "no drill of this name"),
        "no file": (["judge", DRILL, "none.wav"], "no such file"),
        "no sound": (["judge", DRILL, text], "damaged or not written"),
        "code": (["judge", DRILL, "none.wav", "--student", "../up"], "no code for a student"),
        "start code": (["start", DRILL, "--student", "Anna B"], "no code for a student"),
        "fast": (["start", DRILL, "--fast"], "--from"),
        "start file": (["start", DRILL, "--from", "none.wav"], "no such file"),
        "page": (["page", tmp_path], "no attempt of a drill"),
        "forget": (["forget", tmp_path], "nothing in it is removed"),
        "forget code": (["forget", tmp_path, "--student", "a/b"], "no code for a student"),
        "list nothing": (["list", "nowhere"], "there is no such folder"),
        "list code": (["list", "--student", "A"], "no code for a student"),
    }


@pytest.mark.parametrize(
    "what",
    [
        *("no drill", "no file", "no sound", "code", "start code", "fast", "start file", "page"),
        *("forget", "forget code", "list nothing", "list code"),
    ],
)
def test_what_cannot_work_is_one_line_and_keeps_nothing(tmp_path: Path, what: str) -> None:
    """The line says what is wrong; no attempt is begun."""
    arguments, told = bad(tmp_path)[what]
    with pytest.raises(VoicecountError, match=re.escape(told)) as error:
        run(*arguments)

    assert len(str(error.value).splitlines()) == 1
    assert not (tmp_path / "drill-attempts").exists()


@pytest.mark.parametrize(
    "arguments",
    [[], ["grade", "x", "--workers", "0"], ["new"], ["start"], ["judge", "x"], ["forget"]],
)
def test_arguments_that_are_missing_or_wrong_are_refused(arguments: list[str]) -> None:
    """The command line says so before anything is loaded."""
    with pytest.raises((argparse.ArgumentError, SystemExit)):
        run(*arguments)


def started(recording: Path, *more: object) -> Kept:
    """Do a drill with a recording in the student's place."""
    run("start", DRILL, "--from", recording, "--fast", *more)
    return only()


def test_a_drill_with_a_recording_is_held_judged_and_shown(
    recording: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """The scene, what was heard and read back, then the rubric; all of it is kept."""
    kept = started(recording)
    out = capsys.readouterr().out
    attempt = kept.attempt()

    assert kept.state is State.JUDGED
    assert kept.head.student == "student"
    assert attempt.cues_known
    assert attempt.said[0].cue == "scene"
    assert load_drill(DRILL).drill.about in flat(out)
    assert "one two three four five" in out
    assert "Every item named" in out
    assert soundfile.info(kept.sound).duration == pytest.approx(attempt.seconds, abs=0.001)


def test_without_a_voice_a_drill_is_read(recording: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The partner's words are on the screen, and take no time."""
    monkeypatch.setattr(start_module, "choose_voice", lambda *_, **__: None)
    kept = started(recording)

    assert all(said.start == said.end for said in kept.attempt().said)


def ears(sound: Any) -> Any:
    """Give what opens a fake microphone and loudspeaker, with what it was asked for."""
    asked: list[Any] = []

    class Source:
        closed = False

        def now(self) -> float:
            return 0.0

        def close(self) -> None:
            Source.closed = True

    def open_(wanted: Any, settings: Settings, **_: Any) -> Ears:
        asked.extend((wanted, settings))
        speaker = FakeSpeaker()
        asked.append(speaker)
        source: Any = Source()
        fake = Ears(source, None, speaker, "mic", "loud")
        fake.duplex = FakeSource(sound)  # type: ignore[assignment]
        return fake

    return open_, asked, Source


def test_a_microphone_is_opened_by_its_name_and_closed(
    recording: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """One channel of one microphone is listened to; the summary is spoken at the end."""
    sound, _ = soundfile.read(recording, dtype="float32")
    open_, asked, source = ears(np.concatenate((sound, np.zeros(RATE, np.float32))))
    monkeypatch.setattr(start_module, "open_ears", open_)
    remembered = Settings(input_device="Inner", second_input_device="Other")
    monkeypatch.setattr(start_module, "read_settings", lambda: remembered)
    run("start", DRILL, "--microphone", "USB", "--loudspeaker", "Box")
    wanted, settings, speaker = asked

    assert wanted.microphones == ("USB",)
    assert wanted.loudspeaker == "Box"
    assert wanted.one_channel
    assert settings.second_input_device is None
    assert source.closed
    assert len(speaker.played) == len(only().said()) + 1

    run("start", DRILL, "--quiet", "--to", "others")
    wanted, _, speaker = asked[3:]
    assert wanted.microphones == ("Inner",)
    assert len(speaker.played) == len(only("others").said())


def test_a_summary_that_cannot_be_spoken_is_told(
    recording: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """It stands on the screen; the attempt is kept."""
    sound, _ = soundfile.read(recording, dtype="float32")
    open_, asked, _ = ears(sound)
    monkeypatch.setattr(start_module, "open_ears", open_)
    monkeypatch.setattr(FakeVoice, "speak", lambda *_: _fails())
    run("start", DRILL)
    told = capsys.readouterr()

    assert only().state is State.JUDGED
    assert asked[2].played == []
    assert "not spoken" in told.err


def _fails() -> None:
    raise VoiceError("no voice; use --voice none")


def test_a_drill_that_is_stopped_is_listed_and_can_be_judged(
    recording: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """It says where its sound is; a page of it judges what was recorded."""

    class Stops(Hearing):
        calls = 0

        def hear(self, utterance: Utterance, grammar: Grammar) -> Heard:
            Stops.calls += 1
            if Stops.calls > 1:
                raise KeyboardInterrupt
            return super().hear(utterance, grammar)

    monkeypatch.setattr(start_module, "load_recogniser", lambda *_: Stops())
    with pytest.raises(KeyboardInterrupt) as stopped:
        started(recording)
    kept = only()
    run("list", "drill-attempts")
    listed = flat(capsys.readouterr().out)

    assert "broken off" in listed
    assert str(kept.path) in stopped.value.__notes__[0]
    run("page", kept.path)
    assert kept.state is State.JUDGED
    assert kept.attempt().cues_known
    assert kept.attempt().sayings
    assert "was broken off" in capsys.readouterr().err


def test_a_page_is_made_anew_and_tells_of_a_drill_that_was_changed(
    recording: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """A drill of one's own is found by its path."""
    loaded = load_drill(DRILL)
    own = tmp_path / "own.yaml"
    own.write_text(loaded.path.read_text())
    (tmp_path / loaded.sheet_path.name).write_text(loaded.sheet_path.read_text())
    run("judge", own, recording)
    kept = only()
    kept.page.unlink()
    run("page", kept.path)
    unchanged = capsys.readouterr().err
    own.write_text(own.read_text() + "partner: false\n" * ("partner:" not in own.read_text()))
    own.write_text(own.read_text().replace("title: ", "title: New "))
    run("page", kept.path)

    assert kept.page.is_file()
    assert "was changed" not in unchanged
    assert "was changed" in capsys.readouterr().err


def test_a_drill_that_goes_on_has_no_page_yet(recording: Path) -> None:
    """Its sound is still being written."""
    run("judge", DRILL, recording)
    kept = only()
    for name in ("judgement.json", "attempt.json"):
        (kept.path / name).unlink()
    with kept.running(), pytest.raises(AttemptsError, match="goes on"):
        run("page", kept.path)


def test_earlier_attempts_are_shown_and_damaged_ones_are_told(
    recording: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Only the same student's, only what was judged, and only what came before."""
    for student in ("anna", "ben", "anna", "anna"):
        run("judge", DRILL, recording, "--student", student)
    attempts = Attempts(Path("drill-attempts"))
    first, second, last = attempts.all("anna")
    (second.path / "judgement.json").write_text("{")
    found = drill_module.past(attempts, last)

    assert [one.when for one in found] == [first.head.when]
    assert found[0].score == first.judgement().score
    assert "damaged" in capsys.readouterr().err
    assert drill_module.past(attempts, first) == []


def test_forgetting_says_what_is_gone(
    recording: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """One student's attempts, then all; other people's files are named as staying."""
    for student in ("anna", "ben"):
        run("judge", DRILL, recording, "--student", student)
    run("forget", "drill-attempts", "--student", "anna")
    out = capsys.readouterr().out
    assert re.search(r"removed .*anna.*sound\.flac", out)
    assert "files of anna removed" in flat(out)
    (tmp_path / "drill-attempts" / "notes.txt").write_text("mine")
    assert only().head.student == "ben"
    run("forget", "drill-attempts")
    assert Attempts(tmp_path / "drill-attempts").all() == ()
    assert "stay" in capsys.readouterr().err
    assert (tmp_path / "drill-attempts" / "notes.txt").read_text() == "mine"


@pytest.mark.parametrize(
    ("module", "function", "arguments", "given"),
    [
        ("drill_progress", "progress", ["progress", "f", "--out", "p.html"], ("f", None, "p.html")),
        ("drill_new", "new", ["new", "s.yaml", "--task", "confirm"], ("s.yaml", None)),
        ("drill_grade", "grade", ["grade", "f", "--workers", "3", "--again"], ("f",)),
    ],
)
def test_the_other_actions_are_handed_on(
    monkeypatch: pytest.MonkeyPatch,
    module: str,
    function: str,
    arguments: list[str],
    given: tuple[str | None, ...],
) -> None:
    """Each gets its arguments as they were given."""
    calls: list[Any] = []
    monkeypatch.setattr(
        f"voicecount.commands.{module}.{function}", lambda *args, **more: calls.append((args, more))
    )
    run(*arguments)
    ((args, more),) = calls

    assert tuple(None if one is None else str(one) for one in args[: len(given)]) == given
    if module == "drill_grade":
        assert (args[1].workers, args[1].again, args[1].cluster) == (3, True, None)
    if module == "drill_new":
        assert more == {"task": "confirm", "seed": 1, "voice": None}
