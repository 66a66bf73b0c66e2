"""The command line's edges: many routes, the live page's start, and runs that are cut short."""

from __future__ import annotations

import json
import socket

import pytest
from command_line import PLAIN, fails, run
from demo_plans import SAMPLES

from resupply.cli import app as cli


def test_a_club_is_told_of_every_route_and_of_each_that_fails(tmp_path):
    pytest.importorskip("distributed")
    (tmp_path / "bad.toml").write_text("[pace]\ndaily = 3\n")
    done = run("club", SAMPLES / "coast_loop.toml", tmp_path / "bad.toml", *PLAIN, cwd=tmp_path)
    assert done.returncode == 1
    assert "1 of 2 routes planned: club/index.html" in done.stdout
    assert "bad.toml: not planned: " in done.stderr
    assert "Traceback" not in done.stderr
    assert (tmp_path / "club" / "index.html").is_file()


def test_the_page_starts_only_with_map_extracts_that_exist(tmp_path):
    missing = tmp_path / "none.osm.pbf"
    fails("page", "--extract", missing, says=f"{missing}: there is no such map extract")


def test_a_port_in_use_is_named():
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        port = taken.getsockname()[1]
        done = run("page", "--port", port)
    assert done.returncode == 1
    assert f"port {port} cannot be used. Choose another one with --port" in done.stderr
    assert "Traceback" not in done.stderr


def test_a_bare_word_given_to_set_is_text(tmp_path):
    done = run("plan", SAMPLES / "coast_loop.toml", "--set", "name=round we go", *PLAIN,
               "--out", tmp_path)  # fmt: skip
    assert done.returncode == 0, done.stderr
    assert json.loads((tmp_path / "plan.json").read_text("utf-8"))["trip"]["name"] == "round we go"


@pytest.mark.parametrize(
    ("fault", "code", "says"),
    [
        (KeyboardInterrupt(), 130, "stopped; no file is half written"),
        (MemoryError(), 1, "out of memory. Use a smaller map extract"),
    ],
)
def test_the_end_of_a_run_is_one_line(monkeypatch, capsys, fault, code, says):
    def end(_words):
        raise fault

    monkeypatch.setattr(cli, "app", end)
    with pytest.raises(SystemExit) as error:
        cli.main()
    assert error.value.code == code
    (line,) = capsys.readouterr().err.splitlines()
    assert says in line
