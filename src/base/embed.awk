# SPDX-License-Identifier: GPL-3.0-or-later
# Turns text files into C string literals, so that the program carries its catalogue, schema, chart scripts and style sheet.
# Names are base names; base/embed.h reads the table that this writes.
function escape(s) { gsub(/[\\"?]/, "\\\\&", s); gsub(/\t/, "\\t", s); return s }
BEGIN { print "#include \"base/embed.h\"\n\nconst EmbedFile embed_files[] = {" }
FNR == 1 { if (NR > 1) print "    },"; n = split(FILENAME, part, "/"); printf "    {\"%s\",\n", part[n] }
{ printf "     \"%s\\n\"\n", escape($0) }
END { if (NR) print "    },"; print "    {0, 0},\n};" }
