"""What the documents promise, held against the code."""

from __future__ import annotations

import json
import re
import shlex
import subprocess
import sys
from pathlib import Path

import click
import pytest

from frostgate.cli.main import COMMANDS, frostgate, main

ROOT = Path(__file__).parents[1]
README = (ROOT / "README.md").read_text(encoding="utf-8")


def command(name: str) -> click.Command:
    found = frostgate.get_command(click.Context(frostgate), name)
    assert found is not None
    return found


@pytest.mark.parametrize("name", COMMANDS)
def test_every_command_has_help_and_stands_in_the_readme(name: str):
    assert command(name).help
    assert f"frostgate {name}" in README


@pytest.mark.parametrize("name", COMMANDS)
def test_every_option_has_help(name: str):
    found = command(name)
    inner = tuple(found.commands.values()) if isinstance(found, click.Group) else ()
    silent = [
        o.opts for one in (found, *inner) for o in one.params if isinstance(o, click.Option) and not o.help
    ]

    assert silent == []


def all_options(found: click.Command) -> set[str]:
    inner = found.commands.values() if isinstance(found, click.Group) else ()
    own = {opt for param in found.params for opt in param.opts}
    return own.union(*(all_options(one) for one in inner))


def test_options_named_in_the_readme_exist():
    known = set().union(*(all_options(command(name)) for name in COMMANDS))
    commands = "\n".join(re.findall(r"```sh\n(.*?)```", README, flags=re.S)).replace("\\\n", " ")
    used = {
        option
        for line in commands.splitlines()
        for part in re.findall(rf"frostgate (?:{'|'.join(COMMANDS)})\b[^&|]*", line)
        for option in re.findall(r"--[a-z-]+", part)
    }

    assert used
    assert used <= known


SHOWN = re.findall(r"```sh\nfrostgate ([^`]*?)```\n\n```text\n(.*?)```", README, flags=re.S)


def test_five_commands_are_shown_with_what_they_print():
    assert [asked.split()[0] for asked, _ in SHOWN] == ["today", "today", "mix", "compare", "risk"]


@pytest.mark.parametrize(("asked", "printed"), SHOWN[:-1], ids=[asked[:24] for asked, _ in SHOWN[:-1]])
def test_the_readme_shows_what_the_program_prints(
    monkeypatch: pytest.MonkeyPatch,
    tmp_path: Path,
    capsys: pytest.CaptureFixture[str],
    asked: str,
    printed: str,
):
    monkeypatch.chdir(ROOT)
    monkeypatch.setenv("FROSTGATE_CACHE", str(tmp_path))
    arguments = [
        part if part != "places.png" else str(tmp_path / part)
        for part in shlex.split(asked.replace("\\\n", " "))
    ]

    status = main(arguments)

    lines = [line.rstrip() for line in capsys.readouterr().out.splitlines()]
    assert lines == printed.splitlines()
    assert status == (1 if printed.startswith("SHUT") else 0)


def test_the_first_command_of_the_readme_opens_the_gate(monkeypatch: pytest.MonkeyPatch, tmp_path: Path):
    asked = re.search(r"<!-- command: today -->\n```sh\n(.*?)```", README, flags=re.S)
    assert asked is not None
    arguments = asked[1].replace("\\\n", " ").partition(".venv/bin/frostgate ")[2].split()
    monkeypatch.chdir(ROOT)
    monkeypatch.setenv("FROSTGATE_CACHE", str(tmp_path))

    assert main(arguments) == 0


def test_help_loads_no_heavy_library():
    probe = (
        "import sys; from frostgate.cli.main import main; main(['today', '--help']); "
        "print([name for name in ('pandas', 'scipy', 'altair', 'rich') if name in sys.modules])"
    )
    done = subprocess.run([sys.executable, "-c", probe], capture_output=True, text=True, check=True)

    assert done.stdout.splitlines()[-1] == "[]"


def test_the_json_error_has_the_shape_that_the_documents_promise(capsys: pytest.CaptureFixture[str]):
    assert main(["record", "nowhere.dly", "--format", "json"]) == 2

    error = json.loads(capsys.readouterr().out)["error"]

    assert set(error) == {"what", "file", "line", "value", "remedy"}
