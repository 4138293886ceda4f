"""An order folder under its name is the old one or the new one, whole, wherever the process that writes it dies."""

from __future__ import annotations

import errno
import os
import random
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

from steadfold.deliver import order_folder as order
from steadfold.deliver import whole_folder
from steadfold.deliver.whole_folder import FolderRefused, write_whole_folder

OLD = {"a.txt": b"old a", "shop/b.txt": b"old b", "shop/only-old.txt": b"old"}
NEW = {"a.txt": b"new a", "shop/b.txt": b"new b", "bench/c.txt": b"new c"}


def content(folder: Path) -> dict[str, bytes]:
    return {p.relative_to(folder).as_posix(): p.read_bytes() for p in folder.rglob("*") if p.is_file()}


def others(folder: Path) -> list[str]:
    """What lies beside the folder."""
    return sorted(p.name for p in folder.parent.iterdir() if p != folder)


def test_a_folder_is_made_and_replaced_whole(tmp_path: Path) -> None:
    target = tmp_path / "out" / "order"
    write_whole_folder(target, OLD)
    assert content(target) == OLD
    write_whole_folder(target, NEW)
    assert content(target) == NEW and others(target) == []


@pytest.mark.parametrize("fault", [OSError(errno.ENOSPC, "No space left on device"), KeyboardInterrupt()])
@pytest.mark.parametrize("nth", range(1, 8))
def test_a_failure_on_the_way_leaves_the_old_folder_and_nothing_beside_it(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, nth: int, fault: BaseException
) -> None:
    target = tmp_path / "order"
    write_whole_folder(target, OLD)
    real, calls = os.fsync, []

    def fail(handle: int) -> None:
        calls.append(handle)
        if len(calls) == nth and (nth <= len(NEW) or isinstance(fault, KeyboardInterrupt)):
            raise fault
        real(handle)

    monkeypatch.setattr(whole_folder.os, "fsync", fail)
    try:
        write_whole_folder(target, NEW)
        ended = True
    except BaseException as error:
        assert error is fault
        ended = False
    # The last of the calls comes after the exchange: then it is the new one.
    assert content(target) == (NEW if ended or nth == 7 else OLD) and others(target) == []


DIES = """
import os, sys
from steadfold.deliver import whole_folder
target, nth, what = sys.argv[1], int(sys.argv[2]), sys.argv[3]
calls = 0
def dying(real):
    def call(*args, **more):
        global calls
        calls += 1
        mine = calls == nth
        if mine and what == 'before':
            os.kill(os.getpid(), 9)
        try:
            return real(*args, **more)
        finally:
            if mine:
                os.kill(os.getpid(), 9)
    return call
for name in ('fsync', 'rename', 'open', 'mkdir', 'unlink', 'rmdir'):
    setattr(os, name, dying(getattr(os, name)))
whole_folder._exchanged = dying(whole_folder._exchanged)
if len(sys.argv) > 4:
    whole_folder._exchanged = lambda one, other: False
whole_folder.write_whole_folder(target, {'a.txt': b'new a', 'shop/b.txt': b'new b', 'bench/c.txt': b'new c'})
"""


@pytest.mark.parametrize("what", ["before", "after"])
def test_killed_before_or_after_every_call_of_the_system_it_is_old_or_new(tmp_path: Path, what: str) -> None:
    """Every call that touches the disk is in turn the last one; the next run clears up behind it."""
    ended, seen = 0, set()
    for nth in range(1, 200):
        target = tmp_path / f"{what}-{nth}" / "order"
        write_whole_folder(target, OLD)
        done = subprocess.run([sys.executable, "-c", DIES, str(target), str(nth), what], check=False)
        found = content(target)
        assert found in (OLD, NEW), nth
        seen.add("new" if found == NEW else "old")
        write_whole_folder(target, OLD)
        assert content(target) == OLD and others(target) == [], nth
        if done.returncode == 0:
            ended = nth
            break
        assert done.returncode == -signal.SIGKILL
    assert ended > 15 and seen == {"old", "new"}


def test_where_names_cannot_be_exchanged_nothing_is_lost_and_the_next_run_mends_it(tmp_path: Path) -> None:
    """Two renames instead of one step: between them the old folder stands aside, whole, and comes back."""
    ended = False
    for nth in range(1, 200):
        target = tmp_path / str(nth) / "order"
        write_whole_folder(target, OLD)
        done = subprocess.run([sys.executable, "-c", DIES, str(target), str(nth), "after", "plain"], check=False)
        if not target.exists():
            whole_folder._remove_left_overs(target)
            assert content(target) == OLD, nth
        assert content(target) in (OLD, NEW), nth
        write_whole_folder(target, NEW)
        assert content(target) == NEW and others(target) == [], nth
        if done.returncode == 0:
            ended = True
            break
    assert ended


def test_killed_at_random_moments_of_a_loop_it_is_always_whole(tmp_path: Path) -> None:
    """Real kills from outside, at moments drawn by lot; each version of the folder names itself in every file."""
    statement = (
        "import sys; from steadfold.deliver.whole_folder import write_whole_folder\n"
        "print('on', flush=True)\n"
        "for n in range(100000):\n"
        "    data = f'{sys.argv[2]} {n}'.encode() * 999\n"
        "    write_whole_folder(sys.argv[1], {f'{d}/{i}': data for d in 'ab' for i in range(5)})"
    )
    target = tmp_path / "order"
    lot = random.Random(8)
    versions = set()
    for run in range(12):
        process = subprocess.Popen([sys.executable, "-c", statement, str(target), str(run)], stdout=subprocess.PIPE)
        assert process.stdout is not None and process.stdout.readline() == b"on\n"
        while not target.exists():
            time.sleep(0.01)
        time.sleep(lot.uniform(0.0, 0.25))
        process.kill()
        process.wait()
        process.stdout.close()
        found = content(target)
        assert len(found) == 10 and len(set(found.values())) == 1
        versions.add(next(iter(found.values())))
    write_whole_folder(target, NEW)
    assert content(target) == NEW and others(target) == [] and len(versions) > 3


def test_a_run_beside_another_does_not_take_its_folder_away(tmp_path: Path) -> None:
    """A folder aside that a living process holds is left alone; one that nobody holds is removed."""
    target = tmp_path / "order"
    held = tmp_path / ".order.0123456789ab.aside"
    dead = tmp_path / ".order.ba9876543210.aside"
    held.mkdir()
    dead.mkdir()
    with whole_folder._held(held):
        statement = (
            "import sys; from steadfold.deliver.whole_folder import write_whole_folder\n"
            "write_whole_folder(sys.argv[1], {'a': b''})"
        )
        subprocess.run([sys.executable, "-c", statement, str(target)], check=True)
        assert held.exists() and not dead.exists()


@pytest.mark.parametrize("name", ["../a", "/a", "a/../../b", "a//b", ".", "", "a\\b", "a\0b", "c:/x"])
def test_a_path_that_leads_out_of_the_folder_is_refused(tmp_path: Path, name: str) -> None:
    with pytest.raises(ValueError, match="path of a file"):
        write_whole_folder(tmp_path / "order", {"good": b"", name: b""})
    assert list(tmp_path.iterdir()) == []


def folder_of(files: dict[str, bytes]) -> order.OrderFolder:
    """An order folder with a true list of contents, without the cost of making one."""
    import json

    listed = [{"path": n, "bytes": len(d), "sha256": order._sha(d)} for n, d in sorted(files.items())]
    whole = {**files, order.CONTENTS: json.dumps({"files": listed}).encode()}
    return order.OrderFolder(whole, (), (), ())


def test_an_order_folder_as_it_was_written_is_replaced(tmp_path: Path) -> None:
    order.write_order_folder(tmp_path / "order", folder_of(OLD))
    order.write_order_folder(tmp_path / "order", folder_of(NEW))
    assert set(content(tmp_path / "order")) == {*NEW, order.CONTENTS}


def test_a_folder_with_something_else_in_it_is_refused(tmp_path: Path) -> None:
    (tmp_path / "order").mkdir()
    (tmp_path / "order" / "thesis.txt").write_bytes(b"mine")
    with pytest.raises(FolderRefused, match="holds no order folder"):
        order.write_order_folder(tmp_path / "order", folder_of(NEW))
    assert content(tmp_path / "order") == {"thesis.txt": b"mine"}


@pytest.mark.parametrize(("name", "data"), [("notes.txt", b"mine"), ("a.txt", b"with my remarks")])
def test_a_folder_in_which_something_was_added_or_changed_is_refused_and_named(
    tmp_path: Path, name: str, data: bytes
) -> None:
    order.write_order_folder(tmp_path / "order", folder_of(OLD))
    (tmp_path / "order" / name).write_bytes(data)
    before = content(tmp_path / "order")
    with pytest.raises(FolderRefused, match=name.replace(".", r"\.")):
        order.write_order_folder(tmp_path / "order", folder_of(NEW))
    assert content(tmp_path / "order") == before


def test_an_empty_folder_and_a_file_in_its_place(tmp_path: Path) -> None:
    (tmp_path / "order").mkdir()
    order.write_order_folder(tmp_path / "order", folder_of(NEW))
    (tmp_path / "file").write_bytes(b"mine")
    with pytest.raises(FolderRefused, match="is a file"):
        order.write_order_folder(tmp_path / "file", folder_of(NEW))
    assert (tmp_path / "file").read_bytes() == b"mine"
