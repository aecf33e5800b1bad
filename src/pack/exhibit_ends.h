// SPDX-License-Identifier: GPL-3.0-or-later
// Tables of what the two ends' logs of the same transfers tell.
#ifndef CROSSWARD_PACK_EXHIBIT_ENDS_H
#define CROSSWARD_PACK_EXHIBIT_ENDS_H

#include "pack/exhibit.h"

// How well the ends agree, field by field; how many transfers were probably never logged. NULL
// where no transfer was logged by both ends, or source->ends is.
Exhibit *exhibit_ends_agreement(const Source *s, const ExhibitKind *kind);
Exhibit *exhibit_ends_recorded(const Source *s, const ExhibitKind *kind);

#endif
