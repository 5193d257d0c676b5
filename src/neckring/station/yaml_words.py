"""What the YAML parser complains of, in words for people who do not know it."""

from __future__ import annotations

from ruamel.yaml.error import MarkedYAMLError

_INDENT = "lines of one group indented by the same number of spaces"
_QUOTES = "put text that holds it in quotes"

# Part of the parser's complaint: what was read, what is accepted, hint.
_SAID = (
    (
        "mapping values are not allowed",
        ("a second colon in one line, or a key indented too far", "one key and one value a line"),
        "put text that holds a colon in quotes",
    ),
    ("could not find expected ':'", ("a line without a colon", "a key, a colon, a value"), ""),
    ("did not find expected key", ("a line that is no key", "a key, a colon, a value"), ""),
    ("<block end>", ("a line whose indentation fits none above it", _INDENT), ""),
    ("expected ',' or '}'", ("a { that is not closed", "a comma or a } here"), ""),
    ("expected ',' or ']'", ("a [ that is not closed", "a comma or a ] here"), ""),
    ("unexpected end of stream", ("the file's end inside quotes", "a closing quote"), ""),
    ("unknown escape", ("a backslash in double quotes", "text without backslashes"), ""),
    ("sequence entries are not allowed", ("a dash in the wrong place", _INDENT), ""),
    ("block sequence entries", ("a dash in the wrong place", _INDENT), ""),
    ("expected <document start>", ("text after the document's end", "one document"), ""),
    ("found duplicate anchor", ("an anchor written twice", "values written out"), ""),
    ("tag", ("a word that begins with !", "values without tags"), _QUOTES),
    ("directive", ("a line that begins with %", "keys with their values"), ""),
    ("anchor", ("a word that begins with &", "values written out"), _QUOTES),
    ("alias", ("a word that begins with *", "values written out"), _QUOTES),
)


def plain_words(error: MarkedYAMLError, letters: str) -> tuple[str, str, str]:
    """Say a parser's complaint in plain words.

    Args:
        error: The complaint.
        letters: The rest of the line at which it points.

    Returns:
        What was read, what is accepted, and a hint that may be empty.
    """
    if letters.startswith("\t"):
        return "a tab", "spaces: YAML is not indented with tabs", ""
    if letters[:1] in ("@", "`", "%") and "cannot start" in str(error.problem):
        return f"a value that begins with {letters[0]}", "a plain value", _QUOTES
    said = f"{error.problem} {error.context}"
    for part, (read, accepted), hint in _SAID:
        if part in said:
            return read + _opened(error, read), accepted, hint
    return f"text that is not YAML ({error.problem})", "keys with their values", ""


def _opened(error: MarkedYAMLError, read: str) -> str:
    opens = read.startswith(("a {", "a [")) or "inside quotes" in read
    if not opens or error.context_mark is None:
        return ""
    return f", opened on line {error.context_mark.line + 1}"
