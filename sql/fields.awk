# SPDX-License-Identifier: GPL-3.0-or-later
# Fills the marks `--@ ...` of an SQL file from the field table: first the table as fields.h writes it, then the file.
#   --@ columns              the columns of transfers
#   --@ check COLUMN LIST    CHECK that a column holds a code of a list
#   --@ completeness         a SELECT for each field that a log can carry, joined by UNION ALL
function quoted(s) { gsub(/'/, "''", s); return "'" s "'" }

function list_of(name,    i, line, text) { # the codes of a list, in lines of at most 110 characters
    for (i = 1; i <= n_codes[name]; i++) {
        if (length(line) + length(code[name, i]) > 90) { sub(/ $/, "", line); text = text line "\n            "; line = "" }
        line = line quoted(code[name, i]) (i < n_codes[name] ? ", " : "")
    }
    return text line
}

function check(column, name) { return "        CHECK (" column " IN (" list_of(name) "))" }

function columns(    i, f, end) {
    for (i = 1; i <= n_fields; i++) {
        f = field[i]
        end = i < n_fields ? "," : ""
        if (i == first_derived) print "    -- computed from the columns above"
        print "    -- " description[i]
        if (kind[i] == "ID") print "    " f " INTEGER" end " -- 64-bit fingerprint of the pseudonym"
        if (kind[i] == "UNIT") print "    " f " TEXT" (need[i] == "REQUIRED" ? " NOT NULL" : "") " REFERENCES units (unit)" end
        if (kind[i] == "CODE") print "    " f " TEXT\n" check(f, list[i]) end
        if (kind[i] == "DATE" || kind[i] == "EVENTS") print "    " f " TEXT" end
        if (kind[i] == "TIME") print "    " f " TEXT,\n    " f "_epoch INTEGER" end
        if (kind[i] == "NUMBER") print "    " f " REAL" end
    }
}

function completeness(    i, n) {
    for (i = 1; i < first_derived; i++)
        print (i > 1 ? "UNION ALL\n" : "") "SELECT sending_unit AS unit, month, '" field[i] "' AS field, count(*) AS records, count(" \
            field[i] ") AS known FROM transfers GROUP BY sending_unit, month"
}

FNR == 1 { file++ }
file == 1 {
    n = split($0, item, "@")
    for (i = 2; i <= n; i++) {
        split(item[i], part, "\"") # words before the first quote, text, words, text
        split(part[1], word, " ")
        if (word[1] == "LIST") name = word[2]
        if (word[1] == "CODE") code[name, ++n_codes[name]] = part[2]
        if (word[1] == "FIELD") {
            field[++n_fields] = part[2]
            description[n_fields] = part[4]
            split(part[3], word, " ")
            kind[n_fields] = word[1]; list[n_fields] = word[2]; need[n_fields] = word[3]
            if (need[n_fields] == "DERIVED" && !first_derived) first_derived = n_fields
        }
    }
    next
}
/^--@ columns/ { columns(); next }
/^--@ check/ { end = sub(/,$/, "") ? "," : ""; print check($3, $4) end; next }
/^--@ completeness/ { completeness(); next }
{ print }
