"""``voicecount rehearse`` from its arguments to its file, its page and its one-line errors."""

import json
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import soundfile
import soxr
from hibari import Hibari

from tests.rehearsing import FakeEars, FakeExamined
from voicecount import cli
from voicecount.commands import rehearse as command
from voicecount.errors import RecordingError, UsageError, VoiceError
from voicecount.hear.heard import Outcome
from voicecount.rehearse import own, store, voices
from voicecount.rehearse.alike import Names
from voicecount.rehearse.ears import Answer
from voicecount.rehearse.noise import in_room
from voicecount.sheet.load import load_sheet
from voicecount.sound.frame import RATE, Utterance
from voicecount.words.grammar import build_grammar
from voicecount.words.graph import Grammar, Phones
from voicecount.words.meaning import Form, Meaning

TEXT = """
title: A trial
items:
  - {id: deaver, group: instruments, say: [Deaver, broad retractor], expect: 3}
  - {id: clamp, group: instruments, say: [Kelly clamp]}
"""
WAY = ("D", "EH", "V", "ER")


@pytest.fixture
def path(tmp_path: Path) -> Path:
    file = tmp_path / "trial.yaml"
    file.write_text(TEXT, encoding="utf-8")
    return file


def run(capsys: pytest.CaptureFixture[str], *arguments: object) -> tuple[int, str, str]:
    """Run a command in this process: exit code, output, complaints."""
    code = cli.main(["rehearse", *(str(argument) for argument in arguments)])
    captured = capsys.readouterr()
    return code, captured.out, captured.err


def fake(monkeypatch: pytest.MonkeyPatch, ears: FakeEars) -> None:
    """Rehearse without sound."""
    monkeypatch.setattr(command, "_load_ears", lambda: ears)
    monkeypatch.setattr(command, "_load_voices", lambda: ears.voices("one", "two"))


def known(path: Path) -> Phones:
    return Names(build_grammar(load_sheet(path))).lexicon.pronounce("deaver")[0]


def test_a_rehearsal_leaves_a_file_and_a_page(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, path: Path
) -> None:
    """It tells what was heard before and after, and where everything is."""
    fake(monkeypatch, FakeEars())
    code, out, err = run(capsys, path)

    assert (code, err) == (0, "")
    assert "Heard right 12 before, 12 after." in out
    assert "Nothing had to be learned." in out
    assert path.with_name("trial.learned.json").exists()
    assert "<svg" in path.with_name("trial.rehearsal.html").read_text()


def test_json_is_one_object(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, path: Path
) -> None:
    """With --json one object holds the figures, the sound-alikes and the confusions."""

    def unsure(text: str, _: Grammar) -> Answer | None:
        if text == "two Deavers.":
            return Answer(Outcome.UNSURE, Meaning(Form.RUN, "clamp", (2,)), "two", 1.0)
        return None

    fake(monkeypatch, FakeEars(unsure))
    code, out, _ = run(capsys, path, "--json", "--page", path.with_name("page.html"))
    told = json.loads(out)

    assert code == 0
    assert told["before"]["asked"] == told["after"]["asked"] > 0
    assert told["before"]["wrong"] == 0
    assert told["confused"][0]["heard"] == "clamp"
    assert path.with_name("page.html").exists()
    assert told["learned"] == []


def test_a_sheet_of_twins_is_refused_and_the_page_written(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, path: Path
) -> None:
    """Two lines that sound the same: exit code 2, one line with a proposal, and the page."""
    fake(monkeypatch, FakeEars())
    path.write_text(TEXT.replace("Kelly clamp", "Deever"), encoding="utf-8")
    monkeypatch.setattr(
        "voicecount.words.pronounce.g2p", lambda: lambda word: "dˈivəɹ" + "z" * (word[-1] == "s")
    )
    command_code, _, err = run(capsys, path)

    assert command_code == 2
    assert err.count("\n") == 1
    assert "sound the same" in err
    assert "sound the same" in path.with_name("trial.rehearsal.html").read_text()
    assert not path.with_name("trial.learned.json").exists()


def test_a_sheet_whose_lines_are_confused_is_refused(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, path: Path
) -> None:
    """Lines taken for each other more often than heard right: exit code 2, and the page."""

    def confused(text: str, _: Grammar) -> Answer | None:
        if "eaver" in text or "retractor" in text:
            return Answer(Outcome.UNSURE, Meaning(Form.RUN, "clamp", (1, 2)))
        return None

    fake(monkeypatch, FakeEars(confused))
    code, _, err = run(capsys, path)

    assert code == 2
    assert "taken for each other" in err
    assert "taken for each other" in path.with_name("trial.rehearsal.html").read_text()


def test_a_damaged_file_is_made_anew(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, path: Path
) -> None:
    """A rehearsal says that the old file was damaged, and writes a good one."""
    fake(monkeypatch, FakeEars())
    path.with_name("trial.learned.json").write_text('{"format"')
    code, _, err = run(capsys, path)

    assert code == 0
    assert "it is made anew now" in err
    assert store.read(path) is not None


def sayings(path: Path, *texts: str) -> Path:
    """Write a file with a hibari voice that says each text, and silence between."""
    voice = Hibari()
    gap = np.zeros(int(1.2 * RATE), np.float32)
    parts = [gap]
    for text in texts:
        parts += [soxr.resample(np.asarray(voice(text, seed=0), np.float32), 24_000, RATE), gap]
    soundfile.write(path, np.concatenate(parts), RATE)
    return path


def own_ears(monkeypatch: pytest.MonkeyPatch, examined: FakeExamined, many: int = 3) -> None:
    """Hear as many sayings as told, all alike."""
    ears = FakeEars()
    monkeypatch.setattr(ears, "examine", lambda _: examined)
    fake(monkeypatch, ears)
    heard = [Utterance(0, 0.0, 1.0, np.zeros(RATE, np.float32), 0.0)] * many
    monkeypatch.setattr(own, "sayings_in", lambda _: heard)


def test_a_person_teaches_a_name_and_it_is_forgotten(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, path: Path
) -> None:
    """Three sayings that agree are learned, kept apart, used, and forgotten on request."""
    fits = {known(path): -9.0, WAY: -2.0}
    own_ears(monkeypatch, FakeExamined(fits, heard=[WAY], text="Dever."))
    code, out, _ = run(capsys, path, "--listen", "a.wav", "--item", "deaver")

    assert code == 0
    assert "no sound was kept" in out
    kept = store.read(path)
    assert kept is not None
    assert kept.own[0].sounds == {"deaver": ("D EH V ER",), "deavers": ("D EH V ER Z",)}
    assert kept.own[0].spelled == {"deaver": ("dever",)}
    grammar = store.grammars_for(path, load_sheet(path), pytest.fail)()
    assert dict(grammar.spelled) == {"deaver": ("dever",)}

    code, out, _ = run(capsys, path, "--forget", "Deavers")
    assert (code, "deaver is forgotten" in out) == (0, True)
    kept = store.read(path)
    assert kept is not None
    assert kept.own == ()


def test_a_rehearsal_keeps_a_persons_own_sayings(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, path: Path
) -> None:
    """Own sayings stay when the sheet is rehearsed, and are dropped when its names change."""
    own_ears(monkeypatch, FakeExamined({known(path): -9.0, WAY: -2.0}, heard=[WAY]))
    run(capsys, path, "--listen", "a.wav", "--item", "deaver")
    fake(monkeypatch, FakeEars())
    assert run(capsys, path)[0] == 0
    kept = store.read(path)
    assert kept is not None
    assert len(kept.own) == 1

    path.write_text(TEXT.replace("Kelly", "Babcock"), encoding="utf-8")
    code, _, err = run(capsys, path)
    assert code == 0
    assert "are dropped; listen to them again" in err
    kept = store.read(path)
    assert kept is not None
    assert kept.own == ()


@pytest.mark.parametrize(
    ("way", "why"),
    [
        (("K", "AO", "SH", "UW", "M"), "too far"),
        (WAY, "it helps too few of the sayings"),
        (WAY, "it holds a number"),
    ],
)
def test_sayings_that_teach_nothing_say_why(
    capsys: pytest.CaptureFixture[str],
    monkeypatch: pytest.MonkeyPatch,
    path: Path,
    way: Phones,
    why: str,
) -> None:
    """What is refused is told, and nothing is kept."""
    own_ears(monkeypatch, FakeExamined({known(path): -2.0}, heard=[way], text="Three."))
    code, out, _ = run(capsys, path, "--listen", "a.wav", "--item", "Deaver", "--json")
    told = json.loads(out)

    assert code == 0
    assert any(why in refused for refused in told["refused"])
    assert told["learned"]["sounds"] == {}
    assert run(capsys, path, "--listen", "a.wav", "--item", "Deaver")[1].count("Not kept") == 2


def test_sayings_that_do_not_agree_are_not_learned(path: Path) -> None:
    """Two of three must agree, on the phones and on the letters."""
    sheet = load_sheet(path)
    ways = [WAY, ("K", "AO", "SH"), ("S", "IH", "M", "P")]
    examined = [
        FakeExamined({}, heard=[way], text=text) for way, text in zip(ways, "xyz", strict=True)
    ]
    ears = FakeEars()
    waiting = iter(examined)
    ears.examine = lambda _: next(waiting)  # type: ignore[method-assign]
    line, spoken = own.find_name(sheet, "Deaver")
    silent = [Utterance(0, 0.0, 1.0, np.zeros(RATE, np.float32), 0.0)] * 3
    learnt, refused = own.learn_own(line, spoken, silent, ears, Names(build_grammar(sheet)))

    assert learnt.sounds == {}
    assert learnt.spelled == {}
    assert [why.rpartition(": ")[2] for why in refused] == ["no two sayings agree"] * 2


def test_a_name_heard_as_it_is_known_teaches_nothing(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, path: Path
) -> None:
    """Nothing is refused either: there was nothing new."""
    own_ears(monkeypatch, FakeExamined({known(path): -1.0}, text="Deaver."))
    code, out, _ = run(capsys, path, "--listen", "a.wav", "--item", "deaver")

    assert code == 0
    assert "Nothing to learn from them." in out
    assert "Not kept" not in out


@pytest.mark.parametrize(
    ("arguments", "what"),
    [
        (["--listen", "a.wav"], "--listen and --item belong together"),
        (["--item", "deaver"], "--listen and --item belong together"),
        (["--listen", "a.wav", "--item", "stapler"], "is no line and no spoken name"),
        (["--listen", "a.wav", "--item", "deaver"], "no such file"),
        (["--forget", "stapler"], "is no line and no spoken name"),
        (["--forget", "all", "--item", "deaver"], "--forget stands alone"),
    ],
)
def test_what_cannot_work_is_one_line(
    capsys: pytest.CaptureFixture[str], path: Path, arguments: list[str], what: str
) -> None:
    """Wrong arguments and files end with exit code 2 and one line."""
    code, out, err = run(capsys, path, *arguments)

    assert (code, out) == (2, "")
    assert what in err
    assert err.count("\n") == 1


def test_all_is_forgotten_with_the_file(capsys: pytest.CaptureFixture[str], path: Path) -> None:
    """--forget all removes the file; forgetting what was never learned is no error."""
    assert run(capsys, path, "--forget", "deaver")[0] == 0
    path.with_name("trial.learned.json").write_text("damaged")
    code, out, _ = run(capsys, path, "--forget", "all", "--json")

    assert code == 0
    assert json.loads(out)["forgotten"] == "all"
    assert not path.with_name("trial.learned.json").exists()
    assert "is forgotten" in run(capsys, path, "--forget", "all")[1]


def test_hear_tells_a_stamp_that_does_not_match(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, path: Path
) -> None:
    """The commands that load a sheet say that what was learned is not used."""
    fake(monkeypatch, FakeEars())
    run(capsys, path)
    path.write_text(TEXT.replace("Kelly", "Babcock"), encoding="utf-8")
    script = path.with_name("count.txt")
    script.write_text("0: Deaver one two\n")
    cli.main(["hear", "--sheet", str(path), "--recogniser", "typed", "--json", str(script)])

    assert "learned with other names, so it is not used" in capsys.readouterr().err


def test_progress_is_shown_on_a_terminal(monkeypatch: pytest.MonkeyPatch) -> None:
    """On a terminal a bar follows what is being done; elsewhere nothing is shown."""
    shown = command.console
    calls: list[Any] = []

    def terminal(*given: Any) -> Any:
        made = shown(*given)
        made._force_terminal = True
        calls.append(made)
        return made

    monkeypatch.setattr(command, "console", terminal)
    with command._progress() as tell:
        tell("listening", 0, 2)
        tell("listening", 1, 2)
        tell("learning", 0, 1)

    assert calls


def test_programs_that_speak_are_found(tmp_path: Path) -> None:
    """A program that works is a voice; one that fails or is silent is as good as none."""
    good, silent = tmp_path / "good.wav", tmp_path / "silent.wav"
    soundfile.write(good, 0.5 * np.sin(np.arange(8000) / 5), 8000)
    soundfile.write(silent, np.zeros((8000, 2)), 8000)
    scripts = {"espeak-ng": f"cat {good}", "flite": f"cat {silent}"}
    for name, body in scripts.items():
        (tmp_path / name).write_text(f"#!/bin/sh\n{body}\n")
        (tmp_path / name).chmod(0o755)

    def find(name: str) -> str | None:
        return str(tmp_path / name)

    found = voices.find_voices(lambda *_, **__: np.ones(2400, np.float32), find)
    assert [name for name in found if not name.startswith("embedded")] == [
        "espeak-ng (American)",
        "espeak-ng (British)",
    ]
    assert len(found["espeak-ng (American)"]("one")) == 2 * 8000
    assert len(found["embedded, deeper"]("one")) == pytest.approx(1600 * 1.13, rel=0.01)

    (tmp_path / "espeak-ng").write_text("#!/bin/sh\nexit 1\n")
    with pytest.raises(VoiceError, match="said nothing of 'two'"):
        found["espeak-ng (American)"]("two")
    assert all(
        name.startswith("embedded") for name in voices.find_voices(lambda *_: None, lambda _: None)
    )


@pytest.mark.audio
def test_a_voice_teaches_a_name_by_sound(path: Path, tmp_path: Path) -> None:
    """On real sound: a name that is said unlike its letters is learned from three sayings."""
    path.write_text(TEXT.replace("Deaver", "Qwopt"), encoding="utf-8")
    sheet = load_sheet(path)
    names = Names(build_grammar(sheet))
    ears, by_name = command._load()
    found = own.sayings_in([sayings(tmp_path / "own.wav", "Quopper.", "Quopper.", "Quopper.")])
    line, spoken = own.find_name(sheet, "deaver")
    learnt, refused = own.learn_own(line, spoken, found, ears, names)

    assert len(found) == 3
    assert learnt.sounds or learnt.spelled, refused
    said = by_name["embedded"]("Kelly clamp, one, two.")
    heard = ears.hear(in_room(said, "quiet", 45.0, "a"), build_grammar(sheet))
    assert heard.meaning == Meaning(Form.RUN, "clamp", (1, 2))
    lost = Utterance(0, 0.0, 1.0, said, 0.0, lost=True)
    assert ears.hear(lost, build_grammar(sheet)).meaning is None


@pytest.mark.audio
def test_too_few_sayings_are_refused(tmp_path: Path) -> None:
    """Two sayings are not three."""
    file = sayings(tmp_path / "own.wav", "Kittner.", "Kittner.")

    with pytest.raises(RecordingError, match="2 sayings found, 3 are needed"):
        own.sayings_in([file])


def test_a_name_is_found_by_id_and_by_what_is_said(path: Path) -> None:
    """The id stands for the first name; a plural is the same name."""
    sheet = load_sheet(path)

    assert own.find_name(sheet, "clamp")[1].one == "Kelly clamp"
    assert own.find_name(sheet, "broad retractors") == ("deaver", sheet.items[0].say[1])
    with pytest.raises(UsageError):
        own.find_name(sheet, "")
