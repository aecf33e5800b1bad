# SPDX-License-Identifier: GPL-3.0-or-later
# A row each: the middle half as a bar, a line to the nine-in-ten point, the median with its limits.
# Columns: row, p25, median, p75, p90, lower and upper limit of the median.
set logscale x
plot data using 2:1:2:4:($1 - 0.26):($1 + 0.26) with boxxyerror fc rgb band, \
    data using 4:1:4:5 with xerrorbars pt -1 lw 2 lc rgb blue, \
    data using 5:($1 - 0.16):(0):(0.32) with vectors nohead lw 2.4 lc rgb blue, \
    data using 6:1:6:7 with xerrorbars pt -1 lw 5 lc rgb ink, \
    data using 3:1 with points pt 7 ps 1.25 lc rgb paper, \
    data using 3:1 with points pt 7 ps 0.9 lc rgb blue
