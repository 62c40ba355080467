"""May this folder of own templates be used? Every file is read, and every kind of mail tried on it.

A template may lay a mail out anew. It may not drop what the shipped one must say (cautions, why the
mail comes), switch escaping off, or have anything loaded when the mail is opened.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from importlib.resources import files
from pathlib import Path
from typing import Final

from jinja2 import Environment, TemplateError, TemplateSyntaxError, meta, nodes

from notifications.errors import BadSettings
from notifications.examples import CAUTION, examples
from notifications.languages import LANGUAGES, speaking
from notifications.messages import Message, Rendered
from notifications.rendering import Templates, laid_out, templates_of
from notifications.settings import Settings

__all__ = ["TemplateFault", "check_folder", "checked_templates", "shipped_files"]

_ENDINGS: Final = (".txt", ".html", ".css")
_LOADS: Final = re.compile(
    r"<(?:script|iframe|frame|object|embed|link|img|picture|video|audio|source|svg|base|form)\b"
    r"|<[a-z][^<>]*\s(?:on[a-z]+|src|srcset|background|poster|http-equiv)\s*="
    r"|url\s*\(|@import|javascript:",
    re.IGNORECASE,
)
"""What loads or runs something when a mail is opened (or asks its reader for something)."""
_CARE: Final = re.compile(r'<p class="care"[^>]*>(.*?)</p>', re.DOTALL)


@dataclass(frozen=True, slots=True)
class TemplateFault:
    """One thing wrong with a folder: the file in it, the line (None: all of it), what, the mend."""

    file: str
    line: int | None
    problem: str
    mend: str

    def __str__(self) -> str:
        place = self.file if self.line is None else f"{self.file} line {self.line}"
        return f"{place}: {self.problem}; {self.mend}"


def shipped_files() -> list[str]:
    """The names of the shipped templates, as 'site_lead/body.txt'."""
    root = files("notifications") / "templates"
    return sorted(
        f"{folder.name}/{file.name}"
        for folder in root.iterdir()
        if folder.is_dir()
        for file in folder.iterdir()
    )


def checked_templates(settings: Settings) -> Templates:
    """The templates to use; BadSettings where a folder of own ones cannot be."""
    own = templates_of(settings.templates)
    if settings.templates is not None:
        faults = _faults(settings.templates, own)
        if faults:
            more = f" (and {len(faults) - 1} more)" if len(faults) > 1 else ""
            mend = "see all with dueward templates --check, or unset DUEWARD_TEMPLATES"
            raise BadSettings("DUEWARD_TEMPLATES", f"{faults[0]}{more}", mend)
    return own


def check_folder(folder: Path) -> list[TemplateFault]:
    """Everything wrong with a folder, file by file; none where it may be used."""
    return _faults(folder, Templates(folder))


def _faults(folder: Path, own: Templates) -> list[TemplateFault]:
    if not folder.is_dir():
        return [TemplateFault(str(folder), None, "there is no such folder", "name another")]
    paths = sorted(folder.rglob("*"))
    faults = [fault for path in paths for fault in _file_faults(folder, path, own.html)]
    return faults or list(dict.fromkeys(_mail_faults(own))) or list(_name_faults(folder, own))


def _file_faults(folder: Path, path: Path, environment: Environment) -> Iterator[TemplateFault]:
    name = path.relative_to(folder).as_posix()
    if path.is_symlink() and not path.resolve().is_relative_to(folder.resolve()):
        mend = "copy the file into the folder"
        yield TemplateFault(name, None, "it leads out of the folder", mend)
    elif path.is_file() and path.suffix not in _ENDINGS:
        yield TemplateFault(name, None, "it is no template", f"name it {' or '.join(_ENDINGS)}")
    elif path.is_file():
        if not _is_known(name):
            known = (
                f"shipped are {', '.join(sorted({one.split('/')[0] for one in shipped_files()}))}"
            )
            yield TemplateFault(name, None, "no mail uses a file there", known)
        yield from _source_faults(name, path, environment)


def _is_known(name: str) -> bool:
    """A shipped name, or another file in a shipped folder for its templates to include."""
    folders = {one.split("/")[0] for one in shipped_files()}
    return name.count("/") == 1 and name.split("/")[0] in folders


def _source_faults(name: str, path: Path, environment: Environment) -> Iterator[TemplateFault]:
    try:
        source = path.read_text(encoding="utf-8")
    except UnicodeDecodeError:
        yield TemplateFault(name, None, "it is no UTF-8 text", "save it as UTF-8")
        return
    try:
        tree = environment.parse(source, name)
    except TemplateSyntaxError as error:
        yield TemplateFault(name, error.lineno, error.message or "it cannot be read", "correct it")
        return
    for one in tree.find_all(nodes.Filter):
        if one.name == "safe":
            mend = "leave the filter out: names would not be escaped"
            yield TemplateFault(name, one.lineno, "it uses |safe", mend)
    for modifier in tree.find_all(nodes.EvalContextModifier):
        mend = "leave it out: names would not be escaped"
        yield TemplateFault(name, modifier.lineno, "it switches escaping off or on", mend)
    for match in _LOADS.finditer(source):
        line = source.count("\n", 0, match.start()) + 1
        mend = "a mail loads nothing when it is opened"
        yield TemplateFault(name, line, f"it holds '{match[0]}'", mend)


def _name_faults(folder: Path, own: Templates) -> Iterator[TemplateFault]:
    """Names of nothing, also where no example comes by."""
    facts = {name for message in examples("en") for name in message.context}
    for name in shipped_files():
        if not (folder / name).is_file():
            continue
        environment = own.text if name.endswith(".txt") else own.html
        tree = environment.parse((folder / name).read_text(encoding="utf-8"), name)
        known = facts | environment.globals.keys() | _imported(tree)
        for lacking in sorted(meta.find_undeclared_variables(tree) - known):
            line = next(one.lineno for one in tree.find_all(nodes.Name) if one.name == lacking)
            problem = f"no mail has a fact of the name '{lacking}'"
            yield TemplateFault(name, line, problem, "compare it with the shipped one (--copy)")


def _imported(tree: nodes.Template) -> set[str]:
    """The macros a template takes from others, under the names it has for them."""
    names = (name for one in tree.find_all(nodes.FromImport) for name in one.names)
    return {name if isinstance(name, str) else name[1] for name in names}


def _mail_faults(own: Templates) -> Iterator[TemplateFault]:
    """What goes wrong when mails of every kind are laid out with these templates."""
    for language in LANGUAGES:
        with speaking(language):
            for message in examples(language):
                try:
                    made = laid_out(message, own)
                    subject = _subject(message, own)
                except Exception as error:  # an own template may raise anything
                    yield _raised(message, error)
                else:
                    usual = laid_out(message, templates_of(None))
                    yield from _lacking(message, made, usual, subject)


def _subject(message: Message, own: Templates) -> str:
    """The subject as the template has it, before it is put on one line."""
    template = own.text.get_template(f"{message.kind.value}/subject.txt")
    return template.render(message.context).strip()


def _raised(message: Message, error: Exception) -> TemplateFault:
    """Where in the templates it happened, as far as the trace tells."""
    line, file, trace = None, message.kind.value, error.__traceback__
    while trace is not None:
        name = Path(trace.tb_frame.f_code.co_filename)
        if name.suffix in _ENDINGS:
            line, file = trace.tb_lineno, "/".join(name.parts[-2:])
        trace = trace.tb_next
    words = error.message if isinstance(error, TemplateError) else f"{error}"
    problem = f"a mail of the kind {message.kind.value} cannot be made of it: {words}"
    return TemplateFault(file, line, problem, "compare it with the shipped one (--copy)")


def _lacking(
    message: Message, made: Rendered, usual: Rendered, subject: str
) -> Iterator[TemplateFault]:
    """What the shipped template says and must be said, and what may not be in a mail."""
    kind = message.kind.value
    mend = "compare it with the shipped one (--copy)"
    if not made.subject.strip():
        yield TemplateFault(f"{kind}/subject.txt", None, "the subject is empty", mend)
    if len(subject.splitlines()) > 1:
        yield TemplateFault(f"{kind}/subject.txt", None, "the subject is not one line", mend)
    loads = _LOADS.search(made.html)
    if loads:
        problem, never = f"it holds '{loads[0]}'", "a mail loads nothing when it is opened"
        yield TemplateFault(f"{kind}/body.html", None, problem, never)
    reasons = message.context["reasons"]
    wanted = list(reasons) if isinstance(reasons, tuple | list) else []
    for file, text, shipped in (
        (f"{kind}/body.txt", made.text, usual.text),
        (f"{kind}/body.html", _words(made.html), _words(usual.html)),
    ):
        said = _flat(text)
        if not all(_flat(str(reason)) in said for reason in wanted):
            yield TemplateFault(file, None, "it does not say why the mail comes", mend)
        cautions = [CAUTION, *map(_words, _CARE.findall(usual.html))]
        if any(_flat(one) in _flat(shipped) and _flat(one) not in said for one in cautions):
            yield TemplateFault(file, None, "it leaves the cautions out", mend)


def _words(html: str) -> str:
    body = re.sub(r"<style.*?</style>|<[^>]+>", " ", html, flags=re.DOTALL)
    for sign, letter in (("&lt;", "<"), ("&gt;", ">"), ("&#34;", '"'), ("&#39;", "'")):
        body = body.replace(sign, letter)
    return body.replace("&quot;", '"').replace("&amp;", "&")


def _flat(text: str) -> str:
    return re.sub(r"\W+", " ", text).strip().casefold()
