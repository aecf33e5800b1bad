# SPDX-License-Identifier: GPL-3.0-or-later
# Cumulative curves with bands, a block each. Columns: x, proportion, lower, upper. curves: how many.
shades = "#0072B2 #00795A #9A4F86"; bands = "#D6E4F1 #D3EAE3 #EBDCE7"
set logscale x
plot for [k = 0:curves - 1] data index k using 1:3:4 with filledcurves fc rgb word(bands, k + 1), \
    for [k = 0:curves - 1] data index k using 1:2 with lines lw 2.6 lc rgb word(shades, k + 1)
