"""Paper: a template of ours and values become a PDF.

The fonts are those inside the compiler, so that a sheet looks the same on every machine. Only where a name holds
letters that those lack are the machine's own fonts asked; a letter that no font has is spelt out, U+96FB, so that a
name never prints as empty boxes.
"""

from __future__ import annotations

import json
from importlib import resources
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    import typst

# What the compiler's faces cover between them, near enough: Latin, Greek, Cyrillic, Hebrew, Arabic, marks and symbols.
COVERED = ((0x0000, 0x06FF), (0x10A0, 0x10FF), (0x1D00, 0x2BFF))

# A letter that no font has is as wide as one that is none. U+0378 is assigned to nothing.
LACKING = r"""
#set text(font: ("Libertinus Serif", "DejaVu Sans Mono"))
#context {
  let none-wide = measure("\u{378}").width
  [#metadata(json(bytes(sys.inputs.data)).filter(c => measure(c).width == none-wide)) <lacking>]
}
"""


def typeset(template: str, data: dict[str, Any]) -> bytes:
    """A PDF from one of our templates. `data` reaches it as values, never as source; the same data gives the same bytes
    (on one machine, where its own fonts are asked)."""
    text = json.dumps(data, ensure_ascii=False)
    rare = sorted(c for c in set(text) if not any(low <= ord(c) <= high for low, high in COVERED))
    source = resources.files("cutlist.sheets").joinpath(template).read_bytes()
    if rare:
        for letter in json.loads(_compiler(LACKING.encode(), rare, own_fonts=True).query("<lacking>", "value", True)):
            text = text.replace(letter, f"U+{ord(letter):04X} ")
    # the time stamp is left out by the template (date: none)
    pdf = _compiler(source, text, own_fonts=bool(rare)).compile(format="pdf")
    assert isinstance(pdf, bytes)
    return pdf


def _compiler(source: bytes, data: str | list[str], own_fonts: bool) -> typst.Compiler:
    import typst

    text = data if isinstance(data, str) else json.dumps(data)
    fonts = typst.Fonts(include_system_fonts=own_fonts)
    return typst.Compiler(source, font_paths=fonts, ignore_system_fonts=True, sys_inputs={"data": text})
