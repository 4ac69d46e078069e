"""Owns the rules of the house that a machine can read: who imports whom, how long things are, what is never written."""

import ast
import doctest
import functools
import importlib
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
LAYERS = ("engine", "knowledge", "app")
MOST_LINES, MOST_FUNCTION_LINES = 350, 60
# Package -> outside packages that only it may import; anything else outside must be listed for the layer below.
ONLY_IN = {"streamlit": "app", "altair": "app", "pandas": "app", "starlette": "app", "segno": "app", "uvicorn": "app",
           "networkx": "knowledge", "sqlalchemy": "knowledge", "pydantic": "knowledge", "platformdirs": "knowledge"}
ENGINE_OUTSIDE = {"numpy", "scipy", "numba", "llvmlite"}
# Standard library modules by which the engine could reach a file, a database or the network.
NOT_IN_ENGINE = {"pathlib", "os", "io", "sqlite3", "csv", "tomllib", "json", "pickle", "socket", "subprocess", "random", "time"}
# What the app, the knowledge and the engine never write: typed text as markup or code, and ways round the import rules.
BANNED_NAMES = {"unsafe_allow_html", "eval", "exec"}
BANNED_DOTTED = {"st.html", "components.html", "sys.path"}
BANNED_IMPORTS = {"pickle"}
SOURCES = sorted(path for layer in LAYERS for path in (ROOT / layer).rglob("*.py"))
CODE = SOURCES + sorted((ROOT / "tests").rglob("*.py"))


def _name(path):
    return str(path.relative_to(ROOT))


@functools.cache
def _tree(path):
    return ast.parse(path.read_text(encoding="utf-8"))


def _imports(path):
    """Dotted names of everything imported in `path`, also inside functions; `from a import b` gives a and a.b."""
    for found in ast.walk(_tree(path)):
        if isinstance(found, ast.Import):
            yield from (alias.name for alias in found.names)
        elif isinstance(found, ast.ImportFrom):
            assert found.level == 0, f"{_name(path)} line {found.lineno}: imports are absolute"
            yield found.module
            yield from (f"{found.module}.{alias.name}" for alias in found.names)


def _layer(path):
    return path.relative_to(ROOT).parts[0]


def _in_app(path, folder):
    return path.relative_to(ROOT).parts[:2] == ("app", folder)


@pytest.mark.parametrize("path", SOURCES, ids=_name)
def test_imports_run_one_way(path):
    """app -> knowledge -> engine, and nothing back."""
    below = LAYERS[:LAYERS.index(_layer(path)) + 1]
    for name in _imports(path):
        top = name.split(".")[0]
        assert top not in LAYERS or top in below, f"{_name(path)} imports {name}"
        assert ONLY_IN.get(top, _layer(path)) == _layer(path), f"{_name(path)} imports {name}"


@pytest.mark.parametrize("path", [path for path in SOURCES if _layer(path) == "engine"], ids=_name)
def test_the_engine_takes_arrays_and_reads_no_file(path):
    import sys
    for name in _imports(path):
        top = name.split(".")[0]
        assert top in ENGINE_OUTSIDE or top == "engine" or top in sys.stdlib_module_names, f"{_name(path)} imports {name}"
        assert top not in NOT_IN_ENGINE and name not in ("scipy.stats",), f"{_name(path)} imports {name}"
    assert not [call for call in ast.walk(_tree(path)) if isinstance(call, ast.Call) and getattr(call.func, "id", "") == "open"]


@pytest.mark.parametrize("path", [path for path in SOURCES if _in_app(path, "screens") or _in_app(path, "parts")], ids=_name)
def test_no_screen_imports_a_screen_and_no_part_either(path):
    assert not [name for name in _imports(path) if name.startswith("app.screens.")], _name(path)


def test_no_module_imports_in_a_circle():
    graph = {}
    for path in SOURCES:
        module = ".".join(path.relative_to(ROOT).with_suffix("").parts)
        top_level = [node for node in _tree(path).body if isinstance(node, (ast.Import, ast.ImportFrom))]
        names = {alias.name for node in top_level if isinstance(node, ast.Import) for alias in node.names}
        for node in top_level:
            if isinstance(node, ast.ImportFrom):
                names |= {node.module} | {f"{node.module}.{alias.name}" for alias in node.names}
        graph[module] = names
    done = set()

    def visit(module, way):
        assert module not in way, " -> ".join([*way, module])
        if module not in done:
            for name in sorted(graph[module] & set(graph)):
                visit(name, [*way, module])
            done.add(module)
    for module in graph:
        visit(module, [])


@pytest.mark.parametrize("path", CODE, ids=_name)
def test_a_file_is_short_and_says_what_it_owns(path):
    text = path.read_text(encoding="utf-8")
    assert len(text.splitlines()) <= MOST_LINES
    first = ast.get_docstring(_tree(path))
    assert first and first.split("\n")[0].rstrip().endswith((".", ";", ",", ":")), f"{_name(path)}: a first sentence is missing"
    assert path not in SOURCES or first.startswith("Owns "), f"{_name(path)}: the first sentence says what the file owns"


@pytest.mark.parametrize("path", CODE, ids=_name)
def test_functions_are_short(path):
    for found in ast.walk(_tree(path)):
        if isinstance(found, (ast.FunctionDef, ast.AsyncFunctionDef)):
            assert found.end_lineno - found.lineno + 1 <= MOST_FUNCTION_LINES, f"{_name(path)}: {found.name}"


def _never_written(tree, layer):
    """(line, what) of everything in `tree` that the layer never writes."""
    dotted = BANNED_DOTTED | ({"time.sleep"} if layer == "app" else set())
    for found in ast.walk(tree):
        if isinstance(found, ast.ExceptHandler) and found.type is None:
            yield found.lineno, "a bare except"
        elif isinstance(found, ast.Name) and found.id in BANNED_NAMES:
            yield found.lineno, found.id
        elif isinstance(found, ast.keyword) and found.arg in BANNED_NAMES:
            yield found.value.lineno, found.arg
        elif isinstance(found, ast.Attribute) and (name := f"{getattr(found.value, 'id', '')}.{found.attr}") in dotted:
            yield found.lineno, name
        elif isinstance(found, (ast.Import, ast.ImportFrom)):
            names = [found.module or ""] if isinstance(found, ast.ImportFrom) else [alias.name for alias in found.names]
            yield from ((found.lineno, name) for name in names if name.split(".")[0] in BANNED_IMPORTS)


@pytest.mark.parametrize("path", SOURCES, ids=_name)
def test_what_is_never_written(path):
    assert not list(_never_written(_tree(path), _layer(path))), _name(path)


@pytest.mark.parametrize("written", [
    "st.markdown(note, unsafe_allow_html=True)", "st.html(note)", "components.html(note)", "eval(note)", "exec(note)", "import pickle",
    "from pickle import loads", "sys.path.append('.')", "time.sleep(1)", "try:\n    pass\nexcept:\n    pass"])
def test_what_is_never_written_is_caught(written):
    assert len(list(_never_written(ast.parse(written), "app"))) == 1


def _attributes(path):
    return {found.attr for found in ast.walk(_tree(path)) if isinstance(found, ast.Attribute)}


def test_the_session_is_named_in_one_file():
    assert {_name(path) for path in SOURCES if "session_state" in _attributes(path)} <= {"app/job_state.py"}


def test_caching_is_named_in_one_file():
    cached = {_name(path) for path in SOURCES if {"cache_data", "cache_resource"} & _attributes(path)}
    assert cached <= {"app/cached.py"}


def _public(tree):
    """Public functions, classes and methods with their bodies."""
    for found in tree.body:
        if isinstance(found, (ast.FunctionDef, ast.ClassDef)) and not found.name.startswith("_"):
            yield found
            if isinstance(found, ast.ClassDef):
                yield from (inner for inner in found.body if isinstance(inner, ast.FunctionDef) and not inner.name.startswith("_"))


@pytest.mark.parametrize("path", [path for path in SOURCES if _layer(path) in ("engine", "knowledge")], ids=_name)
def test_everything_public_says_what_it_means(path):
    silent = [found.name for found in _public(_tree(path)) if not ast.get_docstring(found)]
    assert not silent, f"{_name(path)}: {', '.join(silent)}"


@pytest.mark.parametrize("path", [path for path in SOURCES if _layer(path) in ("engine", "knowledge")], ids=_name)
def test_examples_in_docstrings_run(path):
    module = importlib.import_module(".".join(path.relative_to(ROOT).with_suffix("").parts))
    assert doctest.testmod(module).failed == 0
