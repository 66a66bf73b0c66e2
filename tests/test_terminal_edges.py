"""What the command line does at its edges: poor encodings, Ctrl-C, pipes, options at fault."""

from __future__ import annotations

import base64
import copy
import io
import json
import os
import re
import signal
import socket
import subprocess
import sys
import tomllib
import zlib

import httpx
import pytest
from command_line import PLAIN, fails, run
from conftest import ROOT
from demo_plans import SAMPLES, demo_document, demo_plan
from hypothesis import given
from hypothesis import strategies as st
from plan_classes import as_plan
from rich.console import Console

from resupply.cli import app as cli
from resupply.cli.signs import fitted, use_plain_signs
from resupply.cli.terminal import print_summary, progress_bar
from resupply.common.errors import RouteError, TripFileError
from resupply.common.progress import Meter
from resupply.hours.usual import read_usual_hours
from resupply.kitchen.food.dishes import read_dishes
from resupply.report.document.in_words import in_words
from resupply.report.write import MEDIA_TYPES
from resupply.roads.speeds import load_speeds
from resupply.route.read import read_route
from resupply.trip.read_file import load_trip, make_trip


@pytest.mark.parametrize("encoding", [pytest.param("cp1252", marks=pytest.mark.long), "ascii"])
def test_a_run_whose_output_cannot_show_a_sign_ends_well(tmp_path, encoding):
    alone = (*PLAIN, "--set", "show.pocket_plans=false")
    words = ["plan", SAMPLES / "coast_loop.toml", *alone, "--out", tmp_path]
    done = subprocess.run(
        [sys.executable, "-m", "resupply", *words],
        capture_output=True,
        timeout=120,
        check=False,
        env={**os.environ, "PYTHONIOENCODING": encoding, "COLUMNS": "100"},
    )
    said = done.stdout.decode(encoding)
    assert (done.returncode, done.stderr) == (0, b"")
    assert "o open" in said
    assert "+ 3 spare" in said
    assert {path.name for path in tmp_path.iterdir()} == set(MEDIA_TYPES)


@pytest.mark.parametrize("encoding", ["utf-8", "cp1252", "ascii"])
def test_every_line_of_a_table_is_as_wide_in_every_encoding(encoding):
    raw = io.BytesIO()
    document, _ = demo_plan()
    stream = io.TextIOWrapper(raw, encoding=encoding, errors="resupply-plain-signs")
    print_summary(as_plan(document), Console(file=stream, width=100), {})
    stream.flush()
    lines = raw.getvalue().decode(encoding).splitlines()
    start = next(n for n, line in enumerate(lines) if line.startswith("Food stops"))
    table = lines[start + 1 : start + 4 + len(document["stops"])]
    assert len({len(line) for line in table}) == 1


def test_the_terminal_tells_where_water_is_taken_on_and_the_way_there():
    document = copy.deepcopy(demo_plan()[0])
    (road,) = (gap for gap in document["water"]["gaps"] if gap != document["water"]["longest"])
    road["words"] = ["2 L for all, from km 601 (Fonte, 300 m off the route, the last 80 m on foot)"]
    out = io.StringIO()
    print_summary(as_plan(document), Console(file=out, width=400), {})
    lines = out.getvalue().splitlines()
    most = [line for line in lines if line.startswith("Most water to carry: ")]
    assert [", 0.2 km off the route) to km" in line for line in most] == [True]
    assert [line for line in lines if line.startswith("Water: ")] == [
        "Water: 2 L for all, from km 601 (Fonte, 300 m off the route, the last 80 m on foot)"
    ]


def test_the_terminal_tells_the_three_ways_to_shop_in_a_line_each():
    document = demo_document()[0]
    out = io.StringIO()
    print_summary(document, Console(file=out, width=80), {})
    table = out.getvalue().partition("Ways to shop")[2].partition("└")[0]
    rows = [
        [cell.strip() for cell in line.strip("│").split("│")]
        for line in table.splitlines()
        if line.startswith("│")
    ]
    assert [row[0].removeprefix("> ") for row in rows] == ["fresh", "balanced", "few"]
    for told, row in zip(rows, document.styles, strict=True):
        assert told[0].startswith("> ") == row.chosen
        assert told[1] == f"{'about ' * row.approximate}{row.stops}"
        assert told[3:] == [
            f"{row.most_meals} + 3 spare",
            f"{row.fresh_dinners} of {row.dinners}",
            f"{row.fail_chance:.0%}".replace("%", " %"),
        ]


def test_what_has_no_plain_sign_is_a_question_mark():
    assert fitted("店 Ærø 4 °C", "ascii") == "? ?ro 4 C"
    assert fitted("店 – ⅓ day", "utf-8") == "店 – ⅓ day"
    assert fitted("2⅓ – ⅓", "cp1252") == "2 1/3 – 1/3"


@given(
    text=st.text(), encoding=st.sampled_from(["cp1252", "ascii", "latin-1", "cp437", "shift_jis"])
)
def test_any_text_can_be_printed_in_any_encoding(text, encoding):
    fitted(text, encoding).encode(encoding)


def test_streams_that_cannot_be_set_up_are_left_alone(monkeypatch):
    kept = io.StringIO()
    monkeypatch.setattr(sys, "stdout", kept)
    use_plain_signs()
    assert sys.stdout is kept


def test_ctrl_c_prints_its_line_through_the_real_command(monkeypatch, capsys):
    def interrupted(*_args, **_options):
        signal.raise_signal(signal.SIGINT)

    monkeypatch.setattr("resupply.cli.plan.plan_and_write", interrupted)
    monkeypatch.setattr(sys, "argv", ["resupply", "demo"])
    # A shell that starts the tests in the background has them ignore the signal.
    before = signal.signal(signal.SIGINT, signal.default_int_handler)
    try:
        with pytest.raises(SystemExit) as end:
            cli.main()
    finally:
        signal.signal(signal.SIGINT, before)
    assert end.value.code == 130
    (line,) = capsys.readouterr().err.splitlines()
    assert line.startswith("resupply: stopped; no file is half written")


def test_a_fault_after_the_files_were_written_does_not_say_that_none_was(
    monkeypatch, capsys, tmp_path
):
    def broken(*_args, **_options):
        raise ZeroDivisionError("while printing")

    monkeypatch.setattr("resupply.cli.terminal.print_summary", broken)
    words = ["demo", "there_and_back", "--out", str(tmp_path)]
    monkeypatch.setattr(sys, "argv", ["resupply", *words])
    with pytest.raises(SystemExit):
        cli.main()
    assert (tmp_path / "plan.html").exists()
    said = capsys.readouterr().err.lower()
    assert "while printing" in said
    assert "nothing was written" not in said


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="no named pipes on this system")
def test_a_named_pipe_is_refused_instead_of_waited_for(tmp_path):
    pipe = tmp_path / "route.gpx"
    os.mkfifo(pipe)
    with pytest.raises(RouteError, match="a pipe or a device"):
        read_route(pipe)
    fails("plan", pipe, says="a pipe or a device. Save it as a file first")
    for read in (load_trip, read_usual_hours, load_speeds, read_dishes):
        with pytest.raises(TripFileError, match="a pipe or a device"):
            read(pipe)
    extract = tmp_path / "map.osm.pbf"
    os.mkfifo(extract)
    words = ["plan", SAMPLES / "coast_loop.toml", "--extract", extract]
    fails(*words, says=f"{extract}: is no file but a pipe or a device")


@pytest.mark.parametrize(
    ("words", "says"),
    [
        ("plan coast_loop.toml --daily-km=-3", "--daily-km -3: must be at least 5 km"),
        ("plan coast_loop.toml --daily-mi=1", "--daily-mi 1: must be at least 5 km"),
        ("plan coast_loop.toml --start soon", "--start soon: must be a date like 2027-07-09"),
        ("plan coast_loop.toml --set party.people=0", "--set party.people=0: must be at least 1"),
        ("plan coast_loop.toml --set region.time_zone=Mars", "region.time_zone=Mars: there is no"),
        (
            "here there_and_back.toml --at-km 5000",
            "--at-km 5000: is at or past the end of the route",
        ),
        (
            "here there_and_back.toml --at-mi 5000",
            "--at-mi 5000: is at or past the end of the route",
        ),
        ("demo --daily-km 0", "--daily-km 0: must be at least 5"),
    ],
)
def test_an_option_at_fault_is_blamed_and_not_the_trip_file(monkeypatch, capsys, words, says):
    argv = [str(SAMPLES / w) if w.endswith(".toml") else w for w in words.split()]
    monkeypatch.setattr(sys, "argv", ["resupply", *argv])
    with pytest.raises(SystemExit) as end:
        cli.main()
    (line,) = capsys.readouterr().err.splitlines()
    assert end.value.code == 1
    assert says in line
    assert "toml" not in line


def test_a_fault_of_the_file_is_not_blamed_on_an_option(monkeypatch, capsys, tmp_path):
    trip = tmp_path / "trip.toml"
    trip.write_text("[party]\npeople = 0\n")
    monkeypatch.setattr(sys, "argv", ["resupply", "plan", str(trip), "--daily-km", "200"])
    with pytest.raises(SystemExit):
        cli.main()
    said = capsys.readouterr().err
    assert f"{trip}, line 2: party.people = 0: must be at least 1" in said


def test_a_club_blames_the_option_for_each_route(tmp_path):
    from resupply.cli.club import jobs_of

    jobs, failures = jobs_of(
        [tmp_path / "a.gpx"],
        {"pace.daily_km": -3.0},
        spelled={"pace.daily_km": "--daily-km -3"},
        start=load_trip(SAMPLES / "coast_loop.toml").start.date,
    )
    assert jobs == ()
    assert failures[0].error == "--daily-km -3: must be at least 5 km"


def test_the_daily_distance_that_is_assumed_is_said(tmp_path):
    plain = ("--set", "map.roads=false", "--set", "show.sweep=false", "--out", tmp_path)
    done = run("plan", SAMPLES / "coast_loop.gpx", "--start", "2027-07-09", *plain)
    said = " ".join(done.stdout.split())
    assert "No daily distance was given: planned with 250 km a day." in said
    given = run(
        "plan", SAMPLES / "coast_loop.gpx", "--start", "2027-07-09", "--daily-km", 300, *plain
    )
    assert given.returncode == 0
    assert "No daily distance" not in given.stdout


@pytest.mark.parametrize(
    ("text", "meant"),
    [
        ("[pace]\ndialy_km = 3", "pace.daily_km"),
        ("daily_km = 3", "pace.daily_km"),
        ("[party]\npeoples = 3", "party.people"),
        ("[paces]\ndaily_km = 3", "pace"),
        ("[food]\ncarry_limit = 3", "food.carry_limit_days"),
    ],
)
def test_an_unknown_key_gets_the_one_that_was_meant(text, meant):
    with pytest.raises(TripFileError, match=re.escape(f"did you mean {meant}?")):
        make_trip(tomllib.loads(text))


def test_a_key_like_no_other_gets_no_advice():
    with pytest.raises(TripFileError, match=r"there is no key xyzzy\. "):
        make_trip({"xyzzy": 1})


def test_the_address_is_printed_when_the_page_answers():
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    page = subprocess.Popen(
        [sys.executable, "-m", "resupply", "page", "--port", str(port)],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        cwd=ROOT,
    )
    try:
        line = page.stdout.readline()
        assert f"http://127.0.0.1:{port}/" in line
        assert httpx.get(f"http://127.0.0.1:{port}/", timeout=5.0).status_code == 200
        page.send_signal(signal.SIGINT)
        _, errors = page.communicate(timeout=20)
    finally:
        page.kill()
    assert "Traceback" not in errors


def test_a_used_port_is_refused_before_anything_is_loaded(monkeypatch):
    # Neither the server nor the page can be had; the port is looked at first.
    monkeypatch.setitem(sys.modules, "uvicorn", None)
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        port = taken.getsockname()[1]
        monkeypatch.setattr(sys, "argv", ["resupply", "page", "--port", str(port)])
        with pytest.raises(SystemExit) as end:
            cli.main()
    assert end.value.code == 1


def test_the_hint_how_to_install_is_spelled_one_way():
    texts = [*ROOT.glob("*.md"), *ROOT.glob("docs/**/*.md"), *ROOT.glob("resupply/**/*.py")]
    spelled = {
        found
        for path in texts
        for found in re.findall(r"pip install (?:-q )?((?:-e )?'[^']*\[\w+\]')", _filled(path))
    }
    assert spelled == {f"-e '.[{extra}]'" for extra in ("page", "index", "many", "test")}


def _filled(path):
    """Text of a file; what the code fills into its hint is every extra."""
    text = path.read_text("utf-8")
    return text.replace("[{extra}]", "[page]")


def test_a_fault_that_ends_in_a_question_has_no_full_stop_after_it():
    fault = TripFileError(
        "there is no key pace.x; did you mean pace.daily_km?", mend="See the docs"
    )
    assert str(fault).endswith("pace.daily_km? See the docs")


def test_a_cooler_that_is_too_full_says_so_in_the_terminal_the_summary_the_file_and_the_page(
    tmp_path,
):
    # So cold that it would stay cold; what is wrong is the room alone.
    cold = ("--set", "weather.days=[]", "--set", "weather.low_c=-15", "--set", "weather.high_c=-9")
    cooler = ("--set", "cooler.kind=hard", "--set", "cooler.volume_l=5")
    plan = ("plan", SAMPLES / "there_and_back.toml", "--people", 4)
    done = run(*plan, *cold, *cooler, *PLAIN, "--out", tmp_path)
    assert done.returncode == 0, done.stderr
    said = " ".join(done.stdout.split())
    assert "Cold food: not all of it: it does not fit" in said
    assert "Food cooler at its fullest: 5.2 L, only 4.8 L fit, Fri 08:30" in said
    does_not_fit = "it does not all fit: 5.2 L of food on Fri 08:30, 0.5 L too much."
    assert f"! Food cooler: {does_not_fit}" in said
    assert "stays at or below" not in said

    document = in_words(as_plan(json.loads((tmp_path / "plan.json").read_text("utf-8"))))
    (chain,) = (row for row in document["cold"]["coolers"] if row["name"] == "food")
    assert (chain["state"], chain["room"]["over_l"]) == ("too full", 0.45)
    assert does_not_fit in " ".join(document["summary"]["cautions"])
    tones = {fact["label"]: fact["tone"] for fact in document["summary"]["facts"]}
    assert tones["Cold food"] == tones["Food cooler at its fullest"] == "alarm"
    first = document["answers"]
    assert (first["ice"]["detail"], first["ice"]["tone"]) == (
        "not all food fits in the cooler", "alarm",
    )  # fmt: skip
    assert first["worst"]["words"].startswith("Not all food fits in the cooler: 0.5 L too much")

    (packed, *_) = re.findall(
        r">([A-Za-z0-9+/=]{200,})<", (tmp_path / "plan.html").read_text("utf-8")
    )
    page = zlib.decompress(base64.b64decode(packed)).decode("utf-8")
    assert "It does not all fit: " in page
    assert "Not all food fits in the cooler: " in page


def test_what_a_service_is_about_to_be_asked_stays_in_sight(monkeypatch):
    monkeypatch.setenv("TERM", "xterm")
    for watched in (True, False):
        shown = io.StringIO()
        console = Console(file=shown, force_terminal=watched, width=100)
        with progress_bar(console) as tell:
            meter = Meter("Asking for [the roads]", 15, 15.0, tell)
            meter.announce(600_000.0)
            meter.step(0.0)
        # What is drawn over ends without a new line.
        stays = [line for line in shown.getvalue().splitlines() if "questions" in line]
        told = "Asking for [the roads]: 15 questions for 600 km, about 4 min"
        assert [told in line for line in stays] == [True] * watched
