# SPDX-License-Identifier: GPL-3.0-or-later
# Makes a manual page (man(7)) of what `--help` prints: headings (`Options:`) become sections, indented lines keep their
# layout, other lines are paragraphs. Variables: name (crossward-audit), summary (for the NAME section), version.
function text(s) {
    gsub(/\\/, "\\e", s)
    gsub(/-/, "\\-", s)
    return s ~ /^[.']/ ? "\\&" s : s
}
function section(title) {
    as_is(0)
    print ".SH " toupper(title)
    blank = 0
}
function as_is(on) {
    if (on != kept) print on ? ".nf" : ".fi"
    kept = on
}
BEGIN {
    printf ".TH %s 1 \"\" \"crossward %s\" \"User commands\"\n", toupper(name), version
    print ".SH NAME\n" text(name) " \\- " text(summary)
}
/^Usage:/ {
    section("synopsis")
    synopsis = 1
    sub(/^Usage: */, "")
    if ($0 == "") next
}
/^$/ { blank = 1; next }
!/^ / && /:$/ {
    synopsis = 0
    section(substr($0, 1, length($0) - 1))
    next
}
{
    if (synopsis && blank && !/^ /) { section("description"); synopsis = 0 }
    as_is(/^ /)
    if (blank) print kept ? "" : ".PP"
    blank = 0
    sub(/^  ?/, "")
    print text($0)
}
END { as_is(0) }
