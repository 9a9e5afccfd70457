"""Car files damaged byte by byte, saves interrupted: nothing but ``InputError``, and the former file stays whole."""

import builtins
import contextlib
import io
import os
import signal
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from dataclasses import replace
from itertools import product
from pathlib import Path
from typing import Any

import pytest
from carfile_texts import NAMES, TEXTS, assert_same

from vdlib.car import store
from vdlib.car.carfile import parse, read, render, write
from vdlib.checks import InputError

FORMER = TEXTS["coupe"].encode()
ODD = b'\x009.\n"-[\xff#\x80=e'
HURTS: dict[str, Callable[[bytes, int, int], bytes]] = {
    "flip": lambda raw, at, other: raw[:at] + bytes([raw[at] ^ (other or 1)]) + raw[at + 1 :],
    "drop": lambda raw, at, other: raw[:at] + raw[at + 1 :],
    "insert": lambda raw, at, other: raw[:at] + bytes([other]) + raw[at:],
    "truncate": lambda raw, at, other: raw[:at],
}


def outcome(raw: bytes, folder: Path) -> str:
    """Read damaged bytes as a person would: told what is wrong, or a car that can be saved and read again."""
    path = folder / "hurt.toml"
    path.write_bytes(raw)
    told: InputError | None = None
    try:
        found = read(path)
    except InputError as fault:
        told = fault
    assert path.read_bytes() == raw  # looking at a file does not change it
    if told is None:
        assert_same(parse(render(found.car, found.setup, found.origin, found.text)), found.car, found.setup)
        return "read"
    assert told.problems
    assert all(p.field and p.rule and p.remedy and len(str(p)) < 1000 for p in told.problems)
    assert str(path) in str(told)
    return "told"


def run_through(name: str, hurt: str, step: int, others: bytes, folder: Path) -> None:
    raw = TEXTS[name].encode()
    seen = {outcome(HURTS[hurt](raw, at, others[at % len(others)]), folder) for at in range(0, len(raw), step)}
    assert "told" in seen  # a hurt that is never noticed would be no test


@pytest.mark.parametrize("hurt", HURTS)
def test_every_fifty_third_byte(hurt: str, tmp_path: Path) -> None:
    run_through("two-seater", hurt, 53, ODD, tmp_path)


@pytest.mark.slow
@pytest.mark.parametrize("hurt", HURTS)
@pytest.mark.parametrize("name", NAMES)
def test_every_byte(name: str, hurt: str, tmp_path: Path) -> None:
    run_through(name, hurt, 1, ODD, tmp_path)


# ---- a save that is interrupted ----------------------------------------------------------------------------------


def stopped_after(limit: int, fault: BaseException) -> Callable[..., Any]:
    """An ``os.fdopen`` whose file takes so many bytes and then fails."""
    real = os.fdopen

    def opened(number: int, *args: Any, **kw: Any) -> Any:
        file = real(number, *args, **kw)

        class Short(io.RawIOBase):
            def write(self, raw: Any) -> int:
                file.write(bytes(raw)[:limit])
                file.flush()
                raise fault

            def close(self) -> None:
                file.close()

        return Short()

    return opened


def test_a_disk_that_is_full_after_some_bytes(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = tmp_path / "car.toml"
    path.write_bytes(FORMER)
    raw = TEXTS["hatch"].encode()
    for limit in (*range(0, len(raw), 97), len(raw) - 1, len(raw)):
        monkeypatch.setattr(store.os, "fdopen", stopped_after(limit, OSError(28, "No space left on device")))
        with pytest.raises(OSError, match="No space left"):
            store.save_whole(path, raw)
        monkeypatch.undo()
        assert path.read_bytes() == FORMER
    assert [p.name for p in tmp_path.iterdir()] == ["car.toml"]


STEPS = ("open", "fdopen", "write", "flush", "fsync", "replace")
FAULTS = (
    OSError(5, "Input/output error"),
    PermissionError(13, "Permission denied"),
    MemoryError(),
    KeyboardInterrupt(),
)


@contextlib.contextmanager
def failing(step: str, fault: BaseException, monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    """Make one step of a save fail."""

    def fails(*_: Any, **__: Any) -> Any:
        raise fault

    with monkeypatch.context() as patch:
        if step in ("write", "flush"):
            real = os.fdopen

            def opened(number: int, *args: Any, **kw: Any) -> Any:
                file = real(number, *args, **kw)

                class Bad:
                    def __enter__(self) -> "Bad":
                        return self

                    def __exit__(self, *_: object) -> None:
                        file.close()

                    def __getattr__(self, name: str) -> Any:
                        return fails if name == step else getattr(file, name)

                return Bad()

            patch.setattr(store.os, "fdopen", opened)
        else:
            patch.setattr(store.os, step, fails)
        yield


def of_every_run(there: bool, step: str, fault: BaseException) -> bool:
    """A fault of the disk and one of no kind that is told, over a former file; and one to a new name."""
    return fault in (FAULTS[0], FAULTS[3]) if there else fault is FAULTS[STEPS.index(step) % 3]


@pytest.mark.parametrize(
    ("there", "step", "fault"),
    [
        pytest.param(
            *case,
            marks=() if of_every_run(*case) else pytest.mark.slow,
            id=f"{'over a former file' if case[0] else 'to a new name'}-{case[1]}-{type(case[2]).__name__}",
        )
        for case in product((True, False), STEPS, FAULTS)
    ],
)
def test_any_step_that_fails(
    there: bool, step: str, fault: BaseException, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "car.toml"
    if there:
        path.write_bytes(FORMER)
    found = parse(TEXTS["hatch"])
    expected = InputError if isinstance(fault, OSError) else type(fault)
    with failing(step, fault, monkeypatch), pytest.raises(expected):
        write(path, found.car, found.setup, former=found.text)
    assert path.exists() == there
    assert not there or path.read_bytes() == FORMER
    assert not [p.name for p in tmp_path.iterdir() if p.name != "car.toml"]
    write(path, found.car, found.setup, former=found.text)  # and afterwards all is well
    assert path.read_text("utf-8") == TEXTS["hatch"]


def test_a_folder_that_cannot_be_put_on_the_disk_is_no_fault_of_the_file(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Some systems refuse it; by then the file itself is whole under its name."""
    path = tmp_path / "car.toml"
    path.write_bytes(FORMER)
    real = os.fsync
    calls: list[int] = []

    def second_fails(number: int) -> None:
        calls.append(number)
        if len(calls) == 2:
            raise OSError(22, "Invalid argument")
        real(number)

    monkeypatch.setattr(store.os, "fsync", second_fails)
    found = parse(TEXTS["hatch"])
    write(path, found.car, found.setup, former=found.text)
    assert len(calls) == 2
    assert path.read_text("utf-8") == TEXTS["hatch"]


BUSY = """
import sys
from pathlib import Path
from vdlib.car import store as carwrite
target, texts = Path(sys.argv[1]), [Path(name).read_bytes() for name in sys.argv[2:]]
print("ready", flush=True)
while True:
    for raw in texts:
        carwrite.save_whole(target, raw)
"""


@pytest.mark.parametrize("wait", [0.023, *(pytest.param(t, marks=pytest.mark.slow) for t in (0.001, 0.011, 0.047))])
def test_a_writer_killed_at_a_chance_moment(wait: float, tmp_path: Path) -> None:
    """It saves without pause; whenever it is killed, the name holds one of its files from first to last byte."""
    texts = [tmp_path / f"{name}.txt" for name in ("two-seater", "hatch")]
    for text in texts:
        text.write_text(TEXTS[text.stem], "utf-8")
    folder = tmp_path / "cars"
    folder.mkdir()
    path = folder / "car.toml"
    path.write_bytes(FORMER)
    with subprocess.Popen(
        [sys.executable, "-c", BUSY, str(path), *map(str, texts)],
        stdout=subprocess.PIPE,
        cwd=Path(store.__file__).parents[2],
    ) as writer:
        assert writer.stdout is not None
        assert writer.stdout.readline() == b"ready\n"
        for _ in range(20):
            assert path.read_bytes() in [FORMER, *(text.read_bytes() for text in texts)]
            time.sleep(wait / 20)
        writer.send_signal(signal.SIGKILL)
        assert writer.wait() == -signal.SIGKILL
    held = read(path)
    assert path.read_bytes() in [FORMER, *(text.read_bytes() for text in texts)]
    write(path, replace(held.car, note="after the crash"), held.setup, former=held.text)
    assert read(path).car.note == "after the crash"


def test_reading_opens_nothing_for_writing(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = tmp_path / "car.toml"
    path.write_bytes(FORMER)
    real = builtins.open
    modes: list[str] = []

    def watched(file: Any, mode: str = "r", *args: Any, **kw: Any) -> Any:
        modes.append(mode)
        return real(file, mode, *args, **kw)

    monkeypatch.setattr(builtins, "open", watched)
    monkeypatch.setattr(io, "open", watched)
    read(path)
    assert modes
    assert all(set(mode) <= set("rb") for mode in modes)
