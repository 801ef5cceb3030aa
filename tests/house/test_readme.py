"""House: the README shows what the code draws today, and names what is there.

Run as a script it draws the picture anew.
"""

import re
from pathlib import Path

from evpack import design, example, read_sheet
from evpack.cli.words import parser
from evpack.load.places import workbooks_dir
from evpack.show.draw.ladder import ladder_svg

README = Path(__file__).resolve().parents[2] / "README.md"
PICTURE = workbooks_dir() / "pictures" / "wether-barn.svg"


def drawn() -> str:
    """Return the voltage ladder of the example on white ground: a page may be dark around it."""
    svg = ladder_svg(design(read_sheet(example("wether-barn"))))
    return re.sub(
        r"(<svg[^>]*>)", r'\1<rect width="100%" height="100%" fill="#fff"/>', svg, count=1
    )


def test_the_picture_is_what_the_code_draws() -> None:
    """Golden: drawn by the code itself; `python tests/house/test_readme.py` draws it anew."""
    assert PICTURE.read_text(encoding="utf-8") == drawn() + "\n"
    assert f"workbooks/pictures/{PICTURE.name}" in README.read_text(encoding="utf-8")


def test_every_workbook_is_linked_from_the_readme_and_every_link_leads_somewhere() -> None:
    links = re.findall(r"\]\(([^)\s]+)\)", README.read_text(encoding="utf-8"))
    for path in workbooks_dir().glob("*.ipynb"):
        assert f"workbooks/{path.name}" in links
    for link in links:
        if "://" not in link:
            assert (README.parent / link).is_file(), link


def test_every_command_of_the_readme_is_one() -> None:
    commands = set(parser()._subparsers._group_actions[0].choices)
    told = re.findall(r"\.venv/bin/evpack (\w[\w-]*)", README.read_text(encoding="utf-8"))
    assert set(told) <= commands
    assert commands <= set(told) | {"library"}


if __name__ == "__main__":
    PICTURE.parent.mkdir(exist_ok=True)
    PICTURE.write_text(drawn() + "\n", encoding="utf-8", newline="\n")
