"""A folder of own templates is tried before it is used, and a mail is never lost over it."""

from __future__ import annotations

import re
from importlib.resources import files
from pathlib import Path

import pytest
from jinja2.exceptions import SecurityError

from notifications import digests
from notifications.errors import BadSettings
from notifications.examples import examples
from notifications.messages import Kind, Message
from notifications.overrides import check_folder, checked_templates, shipped_files
from notifications.rendering import Templates, render
from notifications.settings import Settings
from tests.notifications.facts_made import a_duty, lead_facts

HTML = """\
{% extends '_base/body.html' %}
{% from '_base/parts.html' import folded, section %}
{% block content %}
{% for site in sites %}{% for part in site.sections %}{{ section(part) }}{% endfor %}
{{ folded(site.as_before) }}{% endfor %}{{ tr('CARE', command='dueward why') }}
""".replace(
    "CARE",
    "Read all cautions of a task before the work; {command} shows them. The manufacturer’s manual,"
    " your safety officer and local rules come first.",
)
BLOCK = "{% endblock %}\n"


def folder(tmp_path: Path, **files: str) -> Path:
    """A folder with files, their names written with __ for the slash and _dot_ for the dot."""
    for name, text in files.items():
        path = tmp_path / name.replace("__", "/").replace("_dot_", ".")
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(text, encoding="utf-8")
    return tmp_path


def faults(path: Path) -> list[str]:
    return [str(fault) for fault in check_folder(path)]


def test_examples_hold_every_kind_with_none_one_and_many_rows() -> None:
    made = list(examples("en"))

    assert {one.kind for one in made} == set(Kind)
    assert len(made) > 30


def test_the_shipped_templates_pass_their_own_check(tmp_path: Path) -> None:
    import notifications

    root = Path(next(iter(notifications.__path__))) / "templates"
    for name in shipped_files():
        path = tmp_path / name
        path.parent.mkdir(exist_ok=True)
        path.write_text((root / name).read_text(encoding="utf-8"), encoding="utf-8")

    assert faults(tmp_path) == []


def test_a_folder_may_lay_one_part_out_anew_and_leave_the_rest(tmp_path: Path) -> None:
    own = folder(
        tmp_path,
        site_lead__body_dot_html=f"{HTML}<p>Our help desk: 555 0100</p>{BLOCK}",
        site_lead__own_part_dot_html="<p>included</p>",
    )

    assert faults(own) == []
    made = digests.site_lead(lead_facts(a_duty(-40)))
    assert isinstance(made, Message)
    assert "Our help desk: 555 0100" in render(made, Templates(own)).html
    assert "Our help desk" not in render(made, Templates(own)).text


@pytest.mark.parametrize(
    ("name", "text", "message"),
    [
        (
            "site_lead__body_dot_html",
            f"{HTML}{{{{ nothing_here }}}}{BLOCK}",
            "site_lead/body.html line 6: a mail of the kind site_lead cannot be made of it:"
            " 'nothing_here' is undefined; compare it with the shipped one (--copy)",
        ),
        (
            "site_lead__body_dot_html",
            f"{HTML}{{{{ title | safe }}}}{BLOCK}",
            "site_lead/body.html line 6: it uses |safe; leave the filter out: names would not be"
            " escaped",
        ),
        (
            "site_lead__body_dot_html",
            f"{HTML}{{% autoescape false %}}{{{{ title }}}}{{% endautoescape %}}{BLOCK}",
            "site_lead/body.html line 6: it switches escaping off or on; leave it out: names would"
            " not be escaped",
        ),
        (
            "site_lead__body_dot_html",
            f"{HTML}{{% if %}}{BLOCK}",
            "site_lead/body.html line 6: Expected an expression, got 'end of statement block';"
            " correct it",
        ),
        (
            "site_lead__body_dot_html",
            f'{HTML}<img src="https://elsewhere.example/x.png">{BLOCK}',
            "site_lead/body.html line 6: it holds '<img'; a mail loads nothing when it is opened",
        ),
        (
            "site_lead__body_dot_html",
            f"{HTML}{{{{ ''.__class__.__mro__ }}}}{BLOCK}",
            "site_lead/body.html line 6: a mail of the kind site_lead cannot be made of it: access"
            " to attribute '__class__' of 'str' object is unsafe.; compare it with the shipped one"
            " (--copy)",
        ),
        (
            "site_lead__body_dot_html",
            "<p>{{ first }}</p>",
            "site_lead/body.html: it does not say why the mail comes; compare it with the shipped"
            " one (--copy)",
        ),
        (
            "visit__body_dot_txt",
            "{{ first }}\n{% for reason in reasons %}{{ reason }}\n{% endfor %}",
            "visit/body.txt: it leaves the cautions out; compare it with the shipped one (--copy)",
        ),
        (
            "gaps__subject_dot_txt",
            "{{ title }}\nBcc: all@lab.example",
            "gaps/subject.txt: the subject is not one line; compare it with the shipped one"
            " (--copy)",
        ),
        (
            "site_lead__body_dot_html",
            f"{HTML}{{{{ tr('{{f.__globals__}}', f=tr) }}}}{BLOCK}",
            "site_lead/body.html line 6: a mail of the kind site_lead cannot be made of it:"
            " '{f.__globals__}' is not a name alone; compare it with the shipped one (--copy)",
        ),
        (
            "site_lead__body_dot_html",
            f"{HTML}{{% if false %}}{{{{ nothing_here }}}}{{% endif %}}{BLOCK}",
            "site_lead/body.html line 6: no mail has a fact of the name 'nothing_here'; compare it"
            " with the shipped one (--copy)",
        ),
        (
            "site_lead__body_dot_html",
            f'{HTML}<p title="x" onclick="go()">{BLOCK}',
            "site_lead/body.html line 6: it holds '<p title=\"x\" onclick='; a mail loads nothing"
            " when it is opened",
        ),
        (
            "site_lead__body_dot_html",
            f"{HTML}{{% set a %}}<{{% endset %}}{{{{ a }}}}video>{BLOCK}",
            "site_lead/body.html: it holds '<video'; a mail loads nothing when it is opened",
        ),
        (
            "gaps__subject_dot_txt",
            "\n",
            "gaps/subject.txt: the subject is empty; compare it with the shipped one (--copy)",
        ),
        (
            "site_led__body_dot_html",
            "x",
            "site_led/body.html: no mail uses a file there; shipped are _base, consultant, gaps,"
            " manager, new_charts, new_password, news, site_lead, visit",
        ),
        (
            "site_lead__logo_dot_png",
            "x",
            "site_lead/logo.png: it is no template; name it .txt or .html or .css",
        ),
    ],
)
def test_what_cannot_be_used_is_told_with_file_line_and_mend(
    tmp_path: Path, name: str, text: str, message: str
) -> None:
    assert message in faults(folder(tmp_path, **{name: text}))


def test_the_sentence_that_defers_to_manual_and_officer_cannot_be_left_out(tmp_path: Path) -> None:
    shipped = (files("notifications") / "templates" / "site_lead" / "body.html").read_text()
    own = folder(tmp_path, site_lead__body_dot_html=re.sub(r'<p class="care">.*</p>', "", shipped))

    assert faults(own) == [
        "site_lead/body.html: it leaves the cautions out; compare it with the shipped one (--copy)"
    ]


def test_what_was_checked_is_used_until_the_program_starts_again(tmp_path: Path) -> None:
    own = folder(tmp_path, site_lead__subject_dot_txt="Ours: {{ title }}")
    made = digests.site_lead(lead_facts(a_duty(-40)))
    assert isinstance(made, Message)
    templates = checked_templates(Settings(templates=own))
    (own / "site_lead" / "subject.txt").write_text("{{ 7 * 7 }}")

    assert render(made, templates).subject.startswith("Ours: Alder Creek")


@pytest.mark.parametrize(
    "text",
    [
        "{f.__globals__}",
        "{f.__globals__[os].environ}",
        "{f[0]}",
        "{f:{f.__class__}}",
        "{0}",
        "{}",
    ],
)
def test_no_placeholder_reaches_into_its_value(text: str) -> None:
    for environment in (Templates().text, Templates().html):
        for said in ("tr(text, f=tr)", "trn(text, 'x', 1, f=tr)", "trn('x', text, 2, f=tr)"):
            with pytest.raises(SecurityError, match="is not a name alone"):
                environment.from_string(f"{{{{ {said} }}}}").render(text=text)


def test_a_link_out_of_the_folder_is_refused(tmp_path: Path) -> None:
    (tmp_path / "secret.txt").write_text("secret")
    own = tmp_path / "own"
    (own / "site_lead").mkdir(parents=True)
    (own / "site_lead" / "body.txt").symlink_to(tmp_path / "secret.txt")

    assert "site_lead/body.txt: it leads out of the folder; copy the file into the folder" in (
        faults(own)
    )


def test_a_folder_that_cannot_be_used_is_refused_at_the_start(tmp_path: Path) -> None:
    own = folder(tmp_path, site_lead__body_dot_txt="{{ nothing_here }}")

    with pytest.raises(
        BadSettings, match=r"^DUEWARD_TEMPLATES: site_lead/body\.txt line 1: a mail"
    ):
        checked_templates(Settings(templates=own))
    with pytest.raises(BadSettings, match="there is no such folder; name another; see all with"):
        checked_templates(Settings(templates=tmp_path / "missing"))
    assert checked_templates(Settings()).folder is None


def test_a_template_that_fails_later_gives_way_to_the_shipped_one(tmp_path: Path) -> None:
    own = Templates(folder(tmp_path, site_lead__body_dot_txt="{{ 1 / 0 }}"))
    made = digests.site_lead(lead_facts(a_duty(-40)))
    assert isinstance(made, Message)

    assert render(made, own) == render(made)
    assert own.remarks == [f"{tmp_path}, site_lead: division by zero"]


def test_a_template_can_change_nothing_that_it_is_given(tmp_path: Path) -> None:
    own = folder(
        tmp_path, site_lead__body_dot_txt="{{ sites[0].sections.append(1) }}{{ reasons.clear() }}"
    )

    assert any(re.search("unsafe|no attribute", fault) for fault in faults(own))
