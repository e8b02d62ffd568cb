/*
 * Guidance: which check next, when to stop, what to say; and the case that it leads to a disposition.
 * Nothing here touches the ledger: the caller records what guidance_dispose() has allowed.
 */
#ifndef GUIDANCE_GUIDANCE_H
#define GUIDANCE_GUIDANCE_H

#include "model/memory.h"

#include <cjson/cJSON.h>
#include <counterfoil/counterfoil.h>
#include <stdbool.h>

struct guidance; /* one case; one thread at a time */
struct pack_set;

/* `case_id` is the UUID text of the case. Retains the set. Checks every option but `ledger`. */
int32_t guidance_open(const struct memory *memory, struct pack_set *packs, const cfoil_case_options *options,
                      const char *case_id, struct guidance **guidance, cfoil_error_info *error);
void guidance_close(struct guidance *guidance); /* NULL is harmless */

/* What the ledger holds of the machine of this case: how many notes it was given, and how many of them it refused. */
void guidance_record_set(struct guidance *guidance, uint64_t presentations, uint64_t refusals);

/* The time now on any clock that never goes back; the first one told is when the case was opened. Guidance has no clock. */
void guidance_time_set(struct guidance *guidance, int64_t monotonic_ms);

int32_t guidance_presentation_add(struct guidance *guidance, const cfoil_event *event, cfoil_error_info *error);
int32_t guidance_answer(struct guidance *guidance, const char *check, int32_t answer, cfoil_error_info *error);

/* `refused_before`: the ledger holds a refusal of this serial number. *result is filled but for struct_size. */
int32_t guidance_serial_check(const struct guidance *guidance, const char *serial, cfoil_serial *result);
int32_t guidance_serial_set(struct guidance *guidance, const cfoil_serial *serial, bool refused_before,
                            cfoil_error_info *error);

/* Fills everything but struct_size. Texts live until the next call on this case. */
int32_t guidance_step(struct guidance *guidance, cfoil_step *step, cfoil_error_info *error);

/* The picture of the open check as SVG, as snprintf() would; *needed (may be NULL) counts the ending byte.
 * CFOIL_E_STATE_NO_CHECK, CFOIL_E_ARGUMENT_BUFFER. The texts of the last step stay. */
int32_t guidance_picture(const struct guidance *guidance, char *buffer, size_t capacity, size_t *needed,
                         cfoil_error_info *error);

/* May the case end so? CFOIL_OK, CFOIL_E_ARGUMENT_*, CFOIL_E_RULE_*, CFOIL_E_STATE_CASE_ENDED. Changes nothing. */
int32_t guidance_disposition_check(const struct guidance *guidance, const cfoil_disposition_options *options,
                                   cfoil_error_info *error);

/* The case as it will be once it has ended so (options NULL = as it is): schema "counterfoil.case/1". NULL = no memory.
 * The person's serial number is in it; nothing else is personal. */
cJSON *guidance_json(struct guidance *guidance, const cfoil_disposition_options *options, int64_t time_utc_ms);

/* Adds "step": what guidance_step() tells, which counts as shown. False = no memory. */
bool guidance_step_add(cJSON *object, struct guidance *guidance);

/* Marks the case as ended: call it after guidance_disposition_check() and the record. Cannot fail. */
void guidance_end(struct guidance *guidance, const cfoil_disposition_options *options);

int32_t guidance_disposition(const struct guidance *guidance); /* CFOIL_DISPOSITION_NONE while open */
bool guidance_touched(const struct guidance *guidance);        /* at least one presentation or answer */
const char *guidance_case_id(const struct guidance *guidance);
const char *guidance_currency(const struct guidance *guidance);
const char *guidance_serial(const struct guidance *guidance); /* normalised, or "" */

#endif
