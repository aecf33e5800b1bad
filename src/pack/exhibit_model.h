// SPDX-License-Identifier: GPL-3.0-or-later
// Exhibits: what a case-mix model says of the patients.
#ifndef CROSSWARD_PACK_EXHIBIT_MODEL_H
#define CROSSWARD_PACK_EXHIBIT_MODEL_H

#include "pack/exhibit.h"

// Odds ratios of the model by which the kind's indicator is adjusted, with limits, of the factors
// that every such model has; all of them in the table, whose caption says how well the risks
// foretold what happened. NULL where no model was fitted.
Exhibit *exhibit_model_odds(const Source *s, const ExhibitKind *kind);

#endif
