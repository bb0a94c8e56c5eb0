"""Texts for people: which language they come in, what a catalogue holds, and that the code asks for them rightly."""

import ast
import contextlib
import gettext
import re
import string
from collections.abc import Callable, Iterable, Iterator
from concurrent.futures import ThreadPoolExecutor
from functools import cache
from pathlib import Path

import pytest
from babel.messages.catalog import Catalog, Message
from babel.messages.pofile import read_po

from manual import catalogues
from reelcare import languages
from reelcare.cli import main
from reelcare.cli.command import Command
from reelcare.cli.parser import COMMANDS
from reelcare.core import text
from reelcare.core.text import _, mark, plural
from tests.pseudo import Pseudo, outside

ROOT = Path(__file__).parent.parent
FILES = sorted(ROOT.glob("reelcare/locale/*/LC_MESSAGES/reelcare.po"))
MODULES = sorted((ROOT / "reelcare").rglob("*.py"))


@cache
def _catalogue(path: Path) -> Catalog:
    with path.open("rb") as file:
        return read_po(file, abort_invalid=True)


def _forms(message: Message) -> Iterator[tuple[str, str]]:
    """Each translation of a message, beside the text that it translates."""
    if isinstance(message.id, str):
        yield message.id, str(message.string)
    else:
        yield from ((message.id[-1], form) for form in message.string or ())


def test_english_is_the_key_and_needs_no_catalogue() -> None:
    assert _("Yard of {n} machines", n=3) == "Yard of 3 machines"
    assert mark("Fault") == "Fault"
    assert [plural("{n} run of {tag}", "{n} runs of {tag}", n, tag="T1") for n in (0, 1, 2)] == [
        "0 runs of T1", "1 run of T1", "2 runs of T1",
    ]  # fmt: skip


def test_an_empty_text_stays_empty_in_every_language() -> None:
    # the empty key of a catalogue is its header, see GNU gettext's manual, "The Format of PO Files"
    text.install(languages.catalogue("es"))
    assert _("") == ""


def test_what_somebody_typed_is_never_read_as_a_field() -> None:
    assert _("says {words}", words="{0} {words} {") == "says {0} {words} {"
    assert _("{a} stays") == "{a} stays"


def test_the_installed_language_decides_and_english_comes_back(pseudo: Pseudo) -> None:
    assert _("held since {when}", when="May") == "⟦held since ⟧May"
    assert outside(_("held since {when}", when="May")).split() == ["May"]
    assert plural("{n} run", "{n} runs", 2) == "2⟦ runs⟧"
    text.install()
    assert _("held") == "held"


def test_what_one_thread_words_in_english_leaves_the_language_of_the_others(pseudo: Pseudo) -> None:
    def worded() -> tuple[str, str]:
        return _("held"), text.current_language()

    with ThreadPoolExecutor(1) as screen:
        with text.in_english():
            assert worded() == ("held", "en")
            assert screen.submit(worded).result()[0] == "⟦held⟧"
            screen.submit(text.install, pseudo, "es").result()  # as the person who changes the language meanwhile
        assert worded() == ("⟦held⟧", "es")


def test_what_has_no_translation_stays_english(tmp_path: Path) -> None:
    text.install(languages.catalogue("es"))
    assert _("a text that no catalogue has") == "a text that no catalogue has"
    text.install(languages.catalogue("xx"))
    assert _("held") == "held"


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.parts[-3])
def test_a_catalogue_is_known_as_a_language_and_is_compiled_as_it_stands(path: Path) -> None:
    language = path.parts[-3]
    assert language in languages.LANGUAGES
    compiled = languages.catalogue(language)
    assert isinstance(compiled, gettext.GNUTranslations)
    for message in _catalogue(path):
        if message.id and isinstance(message.id, str) and message.string:
            assert compiled.gettext(message.id) == message.string


SAME_IN = {
    "es": {
        "Demo", "demo", "No", "no", "Plan", "plan", "terminal", "terminal {terminal}", "ID", "PLAN",
        "%(prog)s: error: %(message)s\n", "Hydraulic Institute, Engineering Data Library",
    },
    "fr": {
        "air", "compensation", "copies", "correction", "corrections", "force", "injection", "instruction", "intact",
        "machine", "machines", "? 1 question (a)", "Note", "note", "notes", "options", "Plan", "plan", "question",
        "questions", "signal", "ID", "PLAN", "POSITION", "VOLUME",
        "terminal", "terminal {terminal}", "turbine", "volume", "{n} machine", "{n} minute",
        "Hydraulic Institute, Engineering Data Library",
    },
}  # fmt: skip
"""Texts that are spelt as in English; what is made of values, units and names alone is so in every language."""
UNITS = {"extra", "h", "id", "kWh", "m", "m3", "min", "PIN", "runs", "days", "s", "V", "d", "g", "f"}


def _has_words(english: str) -> bool:
    """Whether a text has a word in it beside its fields, units and names of ours."""
    return bool(set(re.findall(r"[^\W\d_]+", re.sub(r"\{[^}]*\}", " ", english))) - UNITS)


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.parts[-3])
def test_every_text_has_a_translation(path: Path) -> None:
    missing, same = [], set()
    for message in _catalogue(path):
        english = message.id if isinstance(message.id, str) else message.id[0]
        forms = [message.string] if isinstance(message.string, str) else list(message.string or [""])
        if english and not all(forms):
            missing.append(english)
        elif english and english in forms and _has_words(english):
            same.add(english)
    assert missing == []
    assert same == SAME_IN[path.parts[-3]]


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.parts[-3])
def test_a_translation_keeps_blanks_lines_options_and_commands(path: Path) -> None:
    def kept(words: str) -> list[object]:
        return [
            words[: len(words) - len(words.lstrip())],
            words[len(words.rstrip()) :],
            words.count("\n"),
            set(re.findall(r"--[a-z][\w-]+", words)),
            sorted(re.findall(r"`[^`]*`", words)),
            sorted(re.findall(r"%(?:\(\w+\))?[srd]", words)),
        ]

    for message in _catalogue(path):
        for english, translated in _forms(message):
            if message.id:
                assert kept(translated) == kept(english), english


@pytest.mark.parametrize("language", languages.LANGUAGES)
@pytest.mark.parametrize("n", [0, 1, 2])
def test_none_is_one_in_french_and_many_elsewhere(language: str, n: int) -> None:
    # plural forms of each language: GNU gettext's manual, "Plural forms"
    text.install(languages.catalogue(language))
    one = plural("{n} entry decided", "{n} entries decided", 1)
    as_one = plural("{n} entry decided", "{n} entries decided", n).replace(str(n), "1") == one
    assert as_one == (n == 1 or (language == "fr" and n == 0))


def test_the_languages_are_gone_through_one_after_the_other_and_begin_again() -> None:
    codes = list(languages.LANGUAGES)
    assert [languages.after(code) for code in codes] == [*codes[1:], codes[0]]
    assert {path.parts[-3] for path in FILES} == {*codes} - {"en"}


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.parts[-3])
def test_a_translation_has_the_fields_of_its_text_and_no_others(path: Path) -> None:
    def fields(words: str) -> set[str]:
        return {field for _, field, _, _ in string.Formatter().parse(words) if field}

    for message in _catalogue(path):
        for english, translated in _forms(message):
            if message.id and translated and "python-brace-format" in message.flags:
                assert fields(translated) == fields(english), english


def test_a_language_without_a_catalogue_gets_one_with_every_text(tmp_path: Path) -> None:
    path = tmp_path / "pt" / "LC_MESSAGES" / "reelcare.po"
    catalogues.write(path, catalogues.renewed(path, "pt"))
    written = _catalogue(path)
    assert (str(written.locale), len(written)) == ("pt", len(catalogues.texts_of_the_code()))
    assert not any(one.string and any(one.string) for one in written if one.id)


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.parts[-3])
def test_a_catalogue_names_every_text_of_the_code_and_nothing_else(path: Path) -> None:
    def keys(catalogue: Catalog) -> set[str]:
        return {one.id if isinstance(one.id, str) else one.id[0] for one in catalogue if one.id}

    assert keys(_catalogue(path)) == keys(catalogues.texts_of_the_code()), "run `python manual/catalogues.py`"


def test_the_language_is_that_of_the_option_then_of_the_environment(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    asked: list[str] = []
    monkeypatch.setattr(languages, "install", asked.append)
    for words in ("nothing", "nothing --language es", "nothing --language=en", "nothing --language es --json"):
        main(words.split())
    monkeypatch.setenv("REELCARE_LANGUAGE", "es")
    for words in ("nothing", "nothing --language en", "nothing --json"):
        main(words.split())
    assert asked == ["en", "es", "en", "en", "es", "en", "en"]
    capsys.readouterr()
    monkeypatch.setenv("REELCARE_LANGUAGE", "xx")
    assert main(["yard"]) == 2
    assert "REELCARE_LANGUAGE: xx" in capsys.readouterr().err


@pytest.mark.parametrize(
    ("environment", "language"),
    [
        ({"LANG": "es_ES.UTF-8"}, "es"),
        ({"LANG": "fr_FR.UTF-8"}, "fr"),
        ({"LANG": "fr"}, "fr"),
        ({"LANG": "fr_FR.UTF-8", "LC_MESSAGES": "es_MX"}, "es"),
        ({"LANG": "fr_FR.UTF-8", "LC_ALL": "C"}, "en"),
        ({"LANG": "de_AT.UTF-8"}, "en"),
        ({"LANG": "C.UTF-8"}, "en"),
        ({"LANG": ""}, "en"),
        ({"LANG": "es_ES.UTF-8", "REELCARE_LANGUAGE": "fr"}, "fr"),
    ],
)
def test_where_nothing_is_said_the_language_is_that_of_the_computer(
    monkeypatch: pytest.MonkeyPatch, environment: dict[str, str], language: str
) -> None:
    for name in ("LC_ALL", "LC_MESSAGES", "LANG", "REELCARE_LANGUAGE"):
        monkeypatch.delenv(name, raising=False)
    for name, value in environment.items():
        monkeypatch.setenv(name, value)
    assert languages.wished() == language
    assert languages.wished("en") == "en"


def _asks(node: ast.Call) -> bool:
    """Whether a call asks the catalogues."""
    return isinstance(node.func, ast.Name) and node.func.id in ("_", "mark", "plural")


class _Slips(ast.NodeVisitor):
    """Where a module binds the name `_` in a function that also calls it, or asks for a text that is put together."""

    def __init__(self) -> None:
        self.found: list[str] = []

    def visit_JoinedStr(self, node: ast.JoinedStr) -> None:
        for part in ast.walk(node):
            if isinstance(part, ast.Call) and _asks(part) and any(isinstance(one, ast.Constant) for one in part.args):
                self.found.append(f"line {node.lineno}: a text within an f-string is found by no extraction")
        self.generic_visit(node)

    def visit_Call(self, node: ast.Call) -> None:
        if _asks(node):
            texts = node.args[: 2 if getattr(node.func, "id", "") == "plural" else 1]
            for one in texts:
                for part in ast.walk(one):
                    if isinstance(part, (ast.JoinedStr, ast.BinOp)):
                        self.found.append(f"line {node.lineno}: a text that is put together cannot be translated")
        self.generic_visit(node)

    def _look_into(self, node: ast.FunctionDef | ast.AsyncFunctionDef) -> None:
        names = [one for one in ast.walk(node) if isinstance(one, ast.Name) and one.id == "_"]
        calls = [one.func for one in ast.walk(node) if isinstance(one, ast.Call)]
        if any(isinstance(one.ctx, ast.Store) for one in names) and any(one in calls for one in names):
            self.found.append(f"line {node.lineno}: {node.name} binds _ and calls it")
        self.generic_visit(node)

    def visit_FunctionDef(self, node: ast.FunctionDef) -> None:
        self._look_into(node)

    def visit_AsyncFunctionDef(self, node: ast.AsyncFunctionDef) -> None:
        self._look_into(node)


def _slips(tree: ast.Module) -> list[str]:
    finder = _Slips()
    finder.visit(tree)
    return finder.found


def _asked_for(tree: ast.Module) -> list[str]:
    """Each text that is asked for, however deep the call stands in others."""
    calls = (one for one in ast.walk(tree) if isinstance(one, ast.Call) and _asks(one))
    texts = (one.args[0].value for one in calls if one.args and isinstance(one.args[0], ast.Constant))
    return [str(one) for one in texts if one]


def test_no_text_is_lost_where_it_is_asked_for_deep_in_other_calls() -> None:
    assert _asked_for(ast.parse('_("a", a=self.b(_("c", n=D[self.e]), plural("f", "g", 2)))')) == ["a", "c", "f"]
    known = {one.id if isinstance(one.id, str) else one.id[0] for one in catalogues.texts_of_the_code()}
    asked = _in_the_code()["asked for"]
    assert {name: lost for name, texts in asked.items() if (lost := set(texts) - known)} == {}


def test_no_module_binds_the_name_of_the_function_where_it_calls_it_or_puts_a_text_together() -> None:
    assert len(_slips(ast.parse('def f(x):\n    a, _ = x\n    return _("held") + _(f"{a} held")\n'))) == 2
    assert len(_slips(ast.parse("def f():\n    return f\"{_('held')} now\"\n"))) == 1
    assert _in_the_code()["slips"] == {}


THROUGH = ("cli/", "register/", "reports/", "tui/", "core/")
"""Folders whose texts all go through the catalogues."""
TELLS = {
    "Problem",
    "Finding",
    "BadLine",
    "say",
    "tell",
    "print",
    "print_text",
    "input",
    "getpass",
    "HealthLine",
    "ArgumentTypeError",
}
"""What shows its first text to somebody; whatever is raised is shown, too."""
NEVER_SHOWN = {"AssertionError", "KeyError", "NotImplementedError", "JSONDecodeError"}
SAME_EVERYWHERE = {"reelcare", "Python", "SQLite", "--fix-by", "wrong"}
"""Names and options, which are the same in every language."""


def _untranslated(tree: ast.Module) -> list[str]:
    """Each text that is raised or shown without a catalogue; what is made of values alone is none."""

    def words(node: ast.expr) -> bool:
        if isinstance(node, ast.JoinedStr):
            return any(words(part) for part in node.values)
        text = str(node.value) if isinstance(node, ast.Constant) else ""
        return bool(re.search(r"[^\W\d_]{2}", text)) and text.strip(": ") not in SAME_EVERYWHERE

    found = set()
    for node in ast.walk(tree):
        call = node.exc if isinstance(node, ast.Raise) else node
        if not isinstance(call, ast.Call) or not call.args:
            continue
        name = call.func.attr if isinstance(call.func, ast.Attribute) else getattr(call.func, "id", "")
        says = call.args[-1] if name == "FieldError" else call.args[0]  # the first says at which line of a form
        if (name in TELLS or call is not node) and name not in NEVER_SHOWN and words(says):
            found.add(ast.unparse(says))
    return sorted(found)


def _unmarked(tree: ast.Module) -> list[str]:
    """Each text of a key or a column, a page or a help that stands in a class and is not marked."""
    found = []
    for node in ast.walk(tree):
        texts: list[ast.expr] = []
        if isinstance(node, ast.Call) and getattr(node.func, "id", "") == "Binding":
            texts = [*node.args[2:3], *(one.value for one in node.keywords if one.arg in ("description", "tooltip"))]
        elif isinstance(node, ast.Call) and getattr(node.func, "id", "") == "Column":
            texts = node.args[:1]
        elif isinstance(node, ast.Assign) and any(getattr(one, "id", "") in PAGES for one in node.targets):
            texts = [node.value]
        found += [
            str(one.value) for one in texts if isinstance(one, ast.Constant) and re.search("[a-z]", str(one.value))
        ]
    return found


PAGES = {"PAGE", "HELP", "KEEP", "BINDING_GROUP_TITLE"}
"""What a class says of itself on the screen."""


def test_the_texts_of_keys_columns_and_pages_are_marked() -> None:
    source = 'Binding("x", "do", "Do", tooltip=mark("Does"))\nColumn("what", 3)\nPAGE = mark("A")\n'
    assert _unmarked(ast.parse(source)) == ["Do", "what"]
    assert _in_the_code()["unmarked"] == {}


def test_what_is_raised_or_shown_goes_through_the_catalogues() -> None:
    source = 'raise ValueError(f"{x} held")\nprint("held")\nprint(f"{x}: ")\nsay(_("held"))\n'
    assert _untranslated(ast.parse(source)) == ["'held'", "f'{x} held'"]
    assert _in_the_code()["untranslated"] == {}


SENTENCE = re.compile(r"\b[^\W\d_]{2,} [^\W\d_]{2,}\b(?!\.)")
FOR_PROGRAMS = ("register/database/", "reports/page.py", "reports/tag.py")
"""Where SQL or markup is put together."""
NO_SENTENCES = {
    "f'reelcare completion {what}'": "what is typed",
    "f'{parser.prog} has no {name}'": "an error of the program",
    "f'no screen answers {type(request).__name__}'": "an error of the program",
    "f'`{CANNOT_READ}; 6.4 bar at pump`'": "what is typed",
    "f'the {check.checks_for} check since'": "kept in states, and put into words where it is shown",
    "f'the {asked.checks_for} check since'": "kept in states, and put into words where it is shown",
}


def _sentences(tree: ast.Module) -> list[str]:
    """Each f-string with words in a row, and each sentence that is yielded, without a catalogue."""
    found = []
    for node in ast.walk(tree):
        parts = node.values if isinstance(node, ast.JoinedStr) else [node.value] if isinstance(node, ast.Yield) else []
        if any(isinstance(one, ast.Constant) and SENTENCE.search(str(one.value)) for one in parts):
            found.append(ast.unparse(node))
    return [one for one in found if one not in NO_SENTENCES]


@cache
def _in_the_code() -> dict[str, dict[str, list[str]]]:
    """What each check finds, by module; each module is parsed once for all of them."""
    found: dict[str, dict[str, list[str]]] = {
        "slips": {},
        "unmarked": {},
        "untranslated": {},
        "sentences": {},
        "asked for": {},
    }
    for path in MODULES:
        name, tree = path.relative_to(ROOT / "reelcare").as_posix(), ast.parse(path.read_text("utf-8"))
        checks: dict[str, Callable[[ast.Module], list[str]]] = {"slips": _slips, "asked for": _asked_for}
        if name.startswith("tui/"):
            checks["unmarked"] = _unmarked
        if name.startswith(THROUGH):
            checks["untranslated"] = _untranslated
            if not any(one in name for one in FOR_PROGRAMS):
                checks["sentences"] = _sentences
        for what, check in checks.items():
            if texts := check(tree):
                found[what][name] = texts
    return found


def test_no_month_or_weekday_is_named_by_the_locale_of_the_computer() -> None:
    named = re.compile(r":[^}\"']*%[aAbB]")
    assert named.search('f"{begins:%d %B %Y}"')
    found = [
        f"{path.name}: {line.strip()}"
        for path in MODULES
        for line in path.read_text("utf-8").splitlines()
        if named.search(line) and ">>>" not in line
    ]
    assert found == []


def test_no_sentence_is_put_together_outside_the_catalogues() -> None:
    source = 'f"{x} given to {y}"\nyield "says: nothing; say it"\nf"{x}: {y}"\nyield _("says: nothing; say it")\n'
    assert _sentences(ast.parse(f"def f():\n    {source.strip().replace(chr(10), chr(10) + '    ')}")) == [
        "f'{x} given to {y}'", "(yield 'says: nothing; say it')",
    ]  # fmt: skip
    assert _in_the_code()["sentences"] == {}


def _leaves(commands: Iterable[Command], before: tuple[str, ...] = ()) -> Iterator[tuple[str, ...]]:
    for one in commands:
        yield (*before, one.name)
        yield from _leaves(one.kinds, (*before, one.name))


WORDS_OF_COMMANDS = {
    "reelcare",
    "add",
    "revise",
    "pin",
    "unlock",
    "set",
    "up",
    "toml",
    "csv",
    "all",
    "move",
    "retire",
    "left",
}
"""Words that a command is called with, in every language."""


@pytest.mark.parametrize("words", [(), *_leaves(COMMANDS.values())], ids=" ".join)
def test_every_help_goes_through_the_catalogues(
    words: tuple[str, ...], pseudo: Pseudo, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setenv("COLUMNS", "10000")
    with contextlib.suppress(SystemExit):
        main([*words, "--help"])
    lines = capsys.readouterr().out.splitlines()
    told = outside("\n".join(line for line in lines if not line.lstrip().startswith("reelcare ")))
    assert lines
    left = set(re.findall(r"(?<![-\w.])[a-z][a-z]+", re.sub(r"\{[^}]*\}", "", told)))
    assert left <= {word for leaf in _leaves(COMMANDS.values()) for word in leaf} | WORDS_OF_COMMANDS
