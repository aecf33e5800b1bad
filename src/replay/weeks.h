// SPDX-License-Identifier: GPL-3.0-or-later
// Limits of a replay's figures from resampled weeks.
#ifndef CROSSWARD_REPLAY_WEEKS_H
#define CROSSWARD_REPLAY_WEEKS_H

#include "replay/trial.h"

// Fills the limits of all scenarios of a trial, as trial.h says.
void weeks_limits(Trial *r);

#endif
