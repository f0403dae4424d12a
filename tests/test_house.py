"""What holds the house up: the floors, what is public, what is documented, what loads when."""

from __future__ import annotations

import ast
import dataclasses
import importlib
import inspect
import os
import re
import subprocess
import sys
from collections.abc import Iterator
from functools import cache
from pathlib import Path
from types import ModuleType

import pytest

import backwave

ROOT = Path(backwave.__file__).parent
GROUND = {
    "acoustics",
    "atomic_write",
    "budget",
    "crash",
    "errors",
    "finding",
    "notation",
    "plain_text",
    "shape",
    "stock",
    "uncertainty",
    "units",
}
ROOMS = {"fit", "part", "trace", "network", "sound", "power", "damp", "measure", "plan"}
MEETING = {"job", "files", "assess", "workers", "make"}
FACES = {"report", "dossier", "bench", "cli"}  # the report knows no other face
MAY_IMPORT = (
    dict.fromkeys(GROUND, GROUND)
    | dict.fromkeys(ROOMS, GROUND)
    | {"sound": GROUND | {"network"}}
    | {"drawing": GROUND | ROOMS | {"assess"}}  # types of results alone
    | {"job": GROUND, "files": GROUND | ROOMS | {"drawing"}, "workers": GROUND | ROOMS | {"files"}}
    | {"assess": GROUND | ROOMS | {"job", "workers", "drawing"}}
    | {"make": GROUND | ROOMS | {"job", "files", "assess", "workers", "drawing"}}
    | dict.fromkeys(FACES, GROUND | MEETING | {"drawing"})
    | dict.fromkeys(("dossier", "bench"), GROUND | MEETING | {"drawing", "report"})
    | {"cli": GROUND | MEETING | {"drawing", "report", "bench", "dossier"}}  # it opens the one and packs the other
)
HEAVY = ("build123d", "OCP", "scipy", "ezdxf", "shapely", "numpy", "pydantic", "typst", "trimesh")


def modules() -> list[str]:
    paths = sorted(p for p in ROOT.rglob("*.py") if p.name != "__main__.py")
    return [".".join(("backwave", *p.relative_to(ROOT).with_suffix("").parts)).removesuffix(".__init__") for p in paths]


@cache
def imports(name: str) -> frozenset[str]:
    """Names of our own modules that a module imports anywhere in it, functions included."""
    path = ROOT.joinpath(*name.split(".")[1:])
    path = path / "__init__.py" if path.is_dir() else path.with_suffix(".py")
    found = set()
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            found |= {alias.name for alias in node.names}
        elif isinstance(node, ast.ImportFrom) and node.module:
            found |= {node.module} | {f"{node.module}.{alias.name}" for alias in node.names}
    known = set(modules())
    return frozenset(n for n in found if n in known)


def functions_from(name: str, other: str) -> set[str]:
    """What a module imports from another that is not a type or a constant: a face shows results, it computes none."""
    path = ROOT.joinpath(*name.split(".")[1:]).with_suffix(".py")
    nodes = ast.walk(ast.parse(path.read_text(encoding="utf-8")))
    names = [a.name for n in nodes if isinstance(n, ast.ImportFrom) and n.module == other for a in n.names]
    return {n for n in names if not n[0].isupper()} | (set() if names else {other})


def room(name: str) -> str:
    return name.split(".")[1] if "." in name else ""


@pytest.mark.parametrize("name", [n for n in modules() if room(n)])
def test_nobody_imports_from_a_floor_they_may_not(name: str) -> None:
    here = room(name)
    assert here in MAY_IMPORT, f"{here} stands on no floor: add it to the house"
    wrong = {n for n in imports(name) if room(n) and room(n) != here and room(n) not in MAY_IMPORT[here]}
    if here in FACES:
        wrong = {n for n in wrong if room(n) not in ROOMS or functions_from(name, n)}
    if here == "drawing":
        wrong |= {n for n in imports(name) if room(n) in ROOMS | {"assess"} and functions_from(name, n)}
    assert not wrong, f"{name} imports {sorted(wrong)}"


def test_no_import_circle() -> None:
    done: set[str] = set()

    def walk(name: str, path: tuple[str, ...]) -> None:
        assert name not in path, " -> ".join((*path[path.index(name) :], name))
        if name not in done:
            for other in sorted(imports(name)):
                # A package's front door names what is inside; what is inside does not come back through it.
                if other != name and not other.startswith(name + "."):
                    walk(other, (*path, name))
            done.add(name)

    for name in modules():
        walk(name, ())


MAX_FLOORS = 8


def test_assess_stands_on_few_floors() -> None:
    """Imports inside `assess`, those for types alone included: a reader climbs no more than so many files."""
    inside = {
        n for n in modules() if n.startswith("backwave.assess.") and not (ROOT / "/".join(n.split(".")[1:])).is_dir()
    }

    @cache
    def floor(name: str) -> int:
        return 1 + max((floor(other) for other in imports(name) & inside if other != name), default=0)

    floors = {name: floor(name) for name in inside}
    too_high = {name: number for name, number in floors.items() if number > MAX_FLOORS}
    assert len(inside) > 20
    assert not too_high


@cache
def load(name: str) -> ModuleType:
    return importlib.import_module(name)


@pytest.mark.parametrize("name", modules())
def test_a_module_says_what_it_is_and_only_a_front_lists_its_names(name: str) -> None:
    module = load(name)
    assert module.__doc__, f"{name} says nothing about itself"
    front = hasattr(module, "__path__")
    assert front or not hasattr(module, "__all__"), f"{name} is no package's front"
    public = getattr(module, "__all__", ())
    assert not [n for n in public if not hasattr(module, n)]
    assert len(set(public)) == len(public)


def test_no_two_public_classes_share_a_name() -> None:
    """One word, one thing: whoever reads a name in one room knows which class is meant in all of them."""
    homes: dict[str, set[str]] = {}
    for name in modules():
        module = load(name)
        for public, thing in vars(module).items():
            if not public.startswith("_") and inspect.isclass(thing) and thing.__module__ == name:
                homes.setdefault(thing.__name__, set()).add(name)
    assert {word: found for word, found in homes.items() if len(found) > 1} == {}


def public_callables(name: str) -> list[tuple[str, object]]:
    module, found = load(name), []
    for public, thing in vars(module).items():
        if public.startswith("_") or getattr(thing, "__module__", "") != name:
            continue
        if inspect.isfunction(thing):
            found.append((public, thing))
        elif inspect.isclass(thing) and not issubclass(thing, BaseException):
            if "__init__" in vars(thing) and not getattr(thing, "_is_protocol", False):
                found.append((public, thing))
            for key, member in vars(thing).items():
                if inspect.isfunction(member) and not key.startswith("_"):
                    found.append((f"{public}.{key}", member))
    return found


CALCULATION = [n for n in modules() if room(n) in (ROOMS | {"acoustics", "shape", "uncertainty"}) - {"plan"}]
NUMERIC = re.compile(r"\b(float|complex|NDArray|Array)\b")
UNIT_IN_NAME = re.compile(
    r"_(mm|mm2|mm3|m|m2|m3|km|hz|khz|db|deg|rad|degc|k|v|a|w|s|ms|us|h|min|ohm|mohm|n|pa|kg|g|ah|wh|l|f|uf|mh|ppm|px|share)$",
    re.IGNORECASE,
)


def field_comments(thing: type) -> dict[str, str]:
    """What stands on the line of each of a dataclass's fields, behind the hash, or on the line above it."""
    found, above = {}, ""
    for line in inspect.getsource(thing).splitlines():
        field = re.match(r"    (\w+): [^#]*(?:#\s*(.+))?$", line)
        if field:
            found[field[1]] = field[2] or above
        above = line.strip().lstrip("# ") if line.startswith("    #") else ""
    return found


@pytest.mark.parametrize("name", CALCULATION)
def test_every_number_has_its_unit(name: str) -> None:
    """In its name, on the field's own line, or in the docstring: `f`, Hz; `ratio`, 1 where it has none."""
    faults = []
    for label, thing in public_callables(name):
        doc = " ".join((inspect.getdoc(thing) or "").split())
        said = field_comments(thing) if inspect.isclass(thing) and dataclasses.is_dataclass(thing) else {}
        for key, parameter in inspect.signature(thing).parameters.items():  # type: ignore[arg-type]
            if not NUMERIC.search(str(parameter.annotation)) or UNIT_IN_NAME.search(key):
                continue
            if not said.get(key) and not re.search(rf"`{key}`(, `\w+`)*, \S", doc):
                faults.append(f"{label}: {key} is a number without a unit (say 1 where it has none)")
    assert not faults, "\n".join(faults)


@pytest.mark.parametrize("name", modules())
def test_nothing_of_one_system_is_needed_to_load(name: str) -> None:
    """Windows and macOS import all of it: what a Unix alone has is looked for where it is used, and done without."""

    def at_load(node: ast.AST) -> Iterator[ast.AST]:
        yield node
        for inner in ast.iter_child_nodes(node):
            if not isinstance(inner, ast.FunctionDef | ast.AsyncFunctionDef | ast.Lambda):
                yield from at_load(inner)

    path = ROOT.joinpath(*name.split(".")[1:])
    path = path / "__init__.py" if path.is_dir() else path.with_suffix(".py")
    nodes = list(at_load(ast.parse(path.read_text(encoding="utf-8"))))
    names = {a.name for n in nodes if isinstance(n, ast.Import) for a in n.names}
    names |= {n.module or "" for n in nodes if isinstance(n, ast.ImportFrom)}
    assert not names & {"fcntl", "grp", "pty", "pwd", "resource", "termios", "tty"}


def run(*args: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run([sys.executable, *args], capture_output=True, text=True, check=True)


def test_help_loads_nothing_heavy() -> None:
    code = (
        "import sys, backwave.cli as c\n"
        "for command in [], *([name] for name in c.COMMANDS):\n"
        "    try: c.main([*command, '--help'])\n    except SystemExit as end: assert not end.code, command\n"
        f"    print('HEAVY', *sorted({{*{HEAVY!r}, 'backwave.job'}} & set(sys.modules)))"
    )
    shown = run("-c", code).stdout
    loaded = [line for line in shown.splitlines() if line.startswith("HEAVY")]
    # typer itself makes a command's options with pydantic; of our own tables none is there
    assert loaded[0] == "HEAVY"
    assert set(loaded) <= {"HEAVY", "HEAVY pydantic"}
    assert shown.count("Usage: ") == len(loaded) > 18


def test_a_room_at_rest_loads_no_kernel() -> None:
    rooms = sorted(
        r for r in GROUND | ROOMS | MEETING | {"drawing"} if (ROOT / r).exists() or (ROOT / f"{r}.py").exists()
    )
    load_one = "importlib.import_module(f'backwave.{r}'); print(r, {'build123d', 'OCP'} & set(sys.modules))"
    out = run("-c", f"import importlib, sys\nfor r in {rooms!r}: {load_one}").stdout
    assert out.splitlines() == [f"{r} set()" for r in rooms]


def test_help_is_quick() -> None:
    before = os.times()
    run("-m", "backwave", "--help")
    after = os.times()
    # 0.3 s on a quiet machine (benchmarks/ measures it); here the processor's time, and only against something heavy
    # being loaded by mistake: a clock on the wall would judge what else the machine does.
    spent = after.children_user + after.children_system - before.children_user - before.children_system
    assert spent < 1.0


def test_the_repository_speaks_of_the_project_alone() -> None:
    files = subprocess.run(["git", "ls-files"], cwd=ROOT.parents[1], capture_output=True, text=True, check=False).stdout
    hosts = [
        "pypi" + ".org",
        "python" + "hosted",
        "registry." + "npmjs",
        "deb." + "debian.org",
        "/wo" + "rk/",
        "/home" + "/",
    ]
    for file in files.split():
        path = ROOT.parents[1] / file
        if path.suffix in {".png", ".ttf", ".pdf"} or not path.is_file():
            continue
        text = path.read_text(encoding="utf-8", errors="replace")
        # a folder of that name inside the package is no path of a machine
        assert not [h for h in hosts if re.search(rf"(?<!\w){re.escape(h)}", text)], file
