/*
 * A case as text that it can be taken up from again: after a crash, or on another lane.
 */
#ifndef GUIDANCE_CASE_STATE_H
#define GUIDANCE_CASE_STATE_H

#include "guidance/guidance.h"

/* What the case was opened with and all it was told since (schema "counterfoil.open_case/1"). NULL = no memory. */
cJSON *guidance_state(const struct guidance *guidance);

/* The packs that the text needs. */
struct pack_wanted guidance_state_wanted(const cJSON *state);

/* Opens the case again: everything goes through the same checks as at first, since the text comes from a file. The
 * packs may be newer ones; a check that they have no more is CFOIL_E_MISSING_CHECK. `monotonic_ms` is the time now: what
 * lies between does not count as the cashier's time. CFOIL_E_DATA_SCHEMA: not such a text. */
int32_t guidance_restore(const struct memory *memory, struct pack_set *packs, const cJSON *state, int64_t monotonic_ms,
                         struct guidance **guidance, cfoil_error_info *error);

const char *guidance_lane(const struct guidance *guidance);
const char *guidance_sale(const struct guidance *guidance);
int64_t guidance_value_minor(const struct guidance *guidance);

#endif
