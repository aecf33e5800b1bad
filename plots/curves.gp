# SPDX-License-Identifier: GPL-3.0-or-later
# Cumulative curves with bands, a block each. Columns: x, proportion, lower, upper. curves: how many.
# Their names are underlined as they are drawn: from key_left to key_right, at the heights key_0 ...
shades = "#0072B2 #00795A #9A4F86"; bands = "#D6E4F1 #D3EAE3 #EBDCE7"
set logscale x
set dashtype 20 solid
set dashtype 21 (8,2)
set dashtype 22 (3,1.5)
do for [k = 0:curves - 1] {
    set arrow 900 + k from screen key_left, screen value(sprintf("key_%d", k)) to screen key_right, screen value(sprintf("key_%d", k)) \
        nohead lw 2.4 dt 20 + k lc rgb word(shades, k + 1)
}
plot for [k = 0:curves - 1] data index k using 1:3:4 with filledcurves fc rgb word(bands, k + 1), \
    for [k = 0:curves - 1] data index k using 1:2 with lines lw 2.6 dt 20 + k lc rgb word(shades, k + 1)
