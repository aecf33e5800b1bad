# SPDX-License-Identifier: GPL-3.0-or-later
# A row each, an interval and its estimate. Columns: estimate, lower, upper, row, and the row once more in the column of its mark:
# ordinary, to look at (NaN: not so).
plot data using 1:5:2:3 with xerrorbars pt -1 lw 2.2 lc rgb blue, \
    data using 1:6:2:3 with xerrorbars pt -1 lw 2.2 lc rgb vermillion, \
    data using 1:4 with points pt 7 ps 1.2 lc rgb paper, \
    data using 1:5 with points pt 7 ps 0.9 lc rgb blue, \
    data using 1:6 with points pt 13 ps 1.3 lc rgb vermillion
