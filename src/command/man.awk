# SPDX-License-Identifier: GPL-3.0-or-later
# Makes a manual page (man(7)) of what `--help` prints on standard input.
# Variables: name (crossward-audit), summary (for the NAME section), version.
function text(s) {
    gsub(/\\/, "\\e", s)
    gsub(/-/, "\\-", s)
    return s ~ /^[.']/ ? "\\&" s : s
}
function section(title) {
    print ".SH " toupper(title)
    open = 1
}
BEGIN {
    printf ".TH %s 1 \"\" \"crossward %s\" \"User commands\"\n", toupper(name), version
    print ".SH NAME\n" text(name) " \\- " text(summary)
}
/^Usage:/ {
    section("synopsis")
    sub(/^Usage: */, "")
    if ($0 != "") print text($0)
    usage = 1
    next
}
/^$/ {
    if (usage) { section("description"); usage = 0; fresh = 1 } else if (!fresh) { print ".PP"; fresh = 1 }
    next
}
/^[A-Z][A-Za-z ]*:$/ { # a heading of its own
    section(substr($0, 1, length($0) - 1))
    fresh = 1
    next
}
/^ +-/ || /^  [^ ].*   / { # an option, or a term, and what it means
    sub(/^ +/, "")
    term = $0
    sub(/   *.*/, "", term)
    print ".TP\n.B " text(term)
    rest = substr($0, length(term) + 1)
    sub(/^ +/, "", rest)
    if (rest != "") print text(rest)
    fresh = 0
    next
}
{
    sub(/^ +/, "")
    print text($0)
    fresh = 0
}
