"""A room offers what it lists, and what it lists is said in the form of the house."""

from __future__ import annotations

import ast
import importlib
import inspect
import re
import textwrap
from collections.abc import Iterator
from types import FunctionType

from tests.rules.public_names import is_function, listed, looked_into, named, rooms, used

from steadfold import joints

# A name that ends so says its unit, or that it has none.
UNIT = re.compile(
    r"_(?:mm|mm2|mm3|cm3|m|px|n|kn|nmm|mpa|rad|deg|s|min|h|kg|kg_m3|kw|mb|c|hz|rpm|m_per_min|mm_s2|n_per_mm|kn_per_m|mm_per_n)$"
    r"|(?:^|_)(?:share|factor|ratio|scale|gravity|bulge)(?:$|_of_limit$)"
)
# A standard, a source key, or in words where a formula comes from.
SOURCE_SAID = re.compile(r"\b(?:EN|AISI|AWC|DIN|VDI|NDS) |[Ss]ource|derived|statics|friction")
NUMBER = re.compile(r"float(?: \| None)?|tuple\[float\b.*")
AGAIN = "run `python -m tests.rules.public_names` and look at what changed in tests/rules/public-names.md"


def public_functions() -> Iterator[tuple[str, FunctionType]]:
    """Every function that a room offers, once, by where it is written."""
    seen = set()
    for module, names in sorted(listed().items()):
        for name in sorted(names):
            thing = named(module, name)
            if isinstance(thing, FunctionType) and is_function(thing) and thing not in seen:
                seen.add(thing)
                yield f"{thing.__module__}.{thing.__qualname__}", thing


def tree_of(function: FunctionType) -> ast.FunctionDef:
    node = ast.parse(textwrap.dedent(inspect.getsource(function))).body[0]
    assert isinstance(node, ast.FunctionDef)
    return node


def own_nodes(function: ast.AST) -> Iterator[ast.AST]:
    """Nodes of a function without those of functions inside it."""
    for child in ast.iter_child_nodes(function):
        if not isinstance(child, (ast.FunctionDef, ast.Lambda, ast.ClassDef)):
            yield child
            yield from own_nodes(child)


def unsaid_numbers(node: ast.FunctionDef, doc: str) -> list[str]:
    """Parameters that are bare numbers and whose unit neither their name nor the docstring can tell."""
    every = [*node.args.posonlyargs, *node.args.args, *node.args.kwonlyargs]
    bare = [a.arg for a in every if a.annotation and NUMBER.fullmatch(ast.unparse(a.annotation))]
    return [name for name in bare if not UNIT.search(name) and not re.search(rf"\b{name}\b", doc)]


def unsaid_errors(node: ast.FunctionDef, doc: str) -> list[str]:
    """Exceptions that the function raises itself and its docstring does not name."""
    raised = [n.exc for n in own_nodes(node) if isinstance(n, ast.Raise)]
    calls = [ast.unparse(e.func).split(".")[-1] for e in raised if isinstance(e, ast.Call)]
    return [name for name in calls if name[0].isupper() and name not in doc]


def test_every_room_says_what_it_is_for() -> None:
    bare = [room for room in rooms() if not (importlib.import_module(f"steadfold.{room}").__doc__ or "").strip()]
    assert bare == []


def test_what_other_rooms_use_is_what_each_room_lists() -> None:
    assert {m: sorted(n) for m, n in listed().items()} == {m: sorted(n) for m, n in used().items()}, AGAIN


def test_every_listed_name_exists() -> None:
    for module, names in listed().items():
        for name in names:
            assert named(module, name) is not None, f"{module}.{name}"


def test_every_name_a_package_exports_exists() -> None:
    for room in rooms():
        package = importlib.import_module(f"steadfold.{room}")
        exported = getattr(package, "__all__", [])
        assert [name for name in exported if not hasattr(package, name)] == [], room
        assert len(exported) == len(set(exported)), room


def test_no_room_reaches_for_what_another_keeps_to_itself() -> None:
    reached = [
        f"{path.name}: {module}.{name}"
        for path, module, name in looked_into()
        if name.startswith("_") or any(part.startswith("_") for part in module.split("."))
    ]
    assert reached == []


def test_a_number_that_is_asked_for_says_its_unit() -> None:
    unsaid = {}
    for place, function in public_functions():
        found = unsaid_numbers(tree_of(function), inspect.getdoc(function) or "")
        if found:
            unsaid[place] = found
    assert unsaid == {}


def test_what_a_public_function_raises_stands_in_its_docstring() -> None:
    unsaid = {}
    for place, function in public_functions():
        found = unsaid_errors(tree_of(function), inspect.getdoc(function) or "")
        if found:
            unsaid[place] = found
    assert unsaid == {}


def test_a_docstring_begins_with_a_sentence_on_what_it_gives() -> None:
    """A noun or a verb, not 'This function' or 'Returns', and a full stop at its end."""
    wrong = []
    for place, function in public_functions():
        first = (inspect.getdoc(function) or "").split("\n\n")[0].strip()
        if not re.search(r"[.:)`]$", first) or re.match(r"(?:This|Returns?|Computes?|Function|Helper)\b", first):
            wrong.append(f"{place}: {first}")
    assert wrong == []


def test_a_force_or_a_stress_of_a_fixing_names_its_source() -> None:
    """What a screw or bolt may carry comes from a published method, or the docstring says that none is."""
    offered = {name: getattr(joints, name) for name in joints.__all__ if name.endswith(("_n", "_mpa"))}
    given = {name: inspect.getdoc(thing) or "" for name, thing in offered.items() if isinstance(thing, FunctionType)}
    assert len(given) > 10
    silent = [name for name, doc in given.items() if not SOURCE_SAID.search(doc)]
    assert silent == []


def test_the_rules_see_what_they_forbid() -> None:
    node = ast.parse("def f(span: float, width_mm: float, turn: float): raise ValueError('x')").body[0]
    assert isinstance(node, ast.FunctionDef)
    assert unsaid_numbers(node, "`turn` is what it is bent by, rad.") == ["span"]
    assert unsaid_errors(node, "What it gives.") == ["ValueError"]
    assert unsaid_errors(node, "Raises `ValueError` when it is too long.") == []
