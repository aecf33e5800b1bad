// SPDX-License-Identifier: GPL-3.0-or-later
// Numbers as decimal text with a number of significant digits: what printf's %.*g writes, faster.
#ifndef CROSSWARD_BASE_DECIMAL_H
#define CROSSWARD_BASE_DECIMAL_H

enum { DECIMAL_SIZE = 40 }; // of a text, with its end

// Writes value with at most `digits` (1 to 15) significant digits: the decimal nearest to it,
// without zeros at the end, "." as the decimal sign, an exponent where %g has one. Minus zero is 0;
// what is not finite is written as an empty text. text has room for DECIMAL_SIZE bytes.
void decimal_text(char *text, double value, int digits);

// The double nearest to that decimal; what is not finite comes back as it is.
double decimal_rounded(double value, int digits);

#endif
