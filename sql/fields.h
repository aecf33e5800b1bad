// SPDX-License-Identifier: GPL-3.0-or-later
// The field table as words for fields.awk, from the C preprocessor: no code.
#define LIST(list) @LIST list
#define CODE(list, name, code, definition) @CODE code
#define FIELD(name, kind, list, need, description) @FIELD #name kind list need description
#include "record/fields.def"
