# SPDX-License-Identifier: GPL-3.0-or-later
# Bars of parts that make a whole, lying. Columns: from, to, lower and upper edge, colour (as a number).
plot data using 1:3:1:2:3:4:5 with boxxyerror fc rgb variable fs solid 1.0 border lc rgb paper lw 1.5
