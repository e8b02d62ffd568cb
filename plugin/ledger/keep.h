/*
 * What the ledger does about kept notes and cases in work: moves of custody, lists, the count at the end of a shift, and
 * whether a sale may be completed.
 */
#ifndef LEDGER_KEEP_H
#define LEDGER_KEEP_H

#include "ledger/access.h"

/* ---- Custody ---- */

/* One move, checked as to its texts. `case_id` names the case; for CFOIL_CUSTODY_FIND it is a new one. `options->case_id`,
 * `staff`, `session` and the like are not looked at. CFOIL_E_MISSING_CASE, CFOIL_E_RULE_CUSTODY, CFOIL_E_RULE_SECOND,
 * CFOIL_E_STATE_EXISTS (the envelope holds another note), or as access_check(). */
struct custody_order {
    const cfoil_custody_options *options;
    const char *case_id;
    struct actor actor;
    struct actor second; /* staff NULL = nobody */
    int64_t now_utc_ms;
};
int32_t keep_move(struct ledger *ledger, const struct custody_order *order, struct ledger_receipt *receipt,
                  cfoil_error_info *error);

/* ---- Cases in work ---- */

/* What is kept of a case that has not ended. Not hashed, and not flushed to the disk: a killed process loses nothing of it,
 * a power cut may lose the newest answers, never a disposition. */
struct working_case {
    const char *case_id, *lane, *sale, *currency, *serial;
    const char *state; /* guidance's own text */
};
int32_t keep_case_save(struct ledger *ledger, const struct working_case *working, cfoil_error_info *error);
int32_t keep_case_remove(struct ledger *ledger, const char *case_id, cfoil_error_info *error);

/* The saved text of a case, to be freed with sqlite3_free() through keep_text_free(). CFOIL_E_MISSING_CASE, or
 * CFOIL_E_STATE_CASE_ENDED when it has its disposition. */
int32_t keep_case_load(struct ledger *ledger, const char *case_id, char **state, cfoil_error_info *error);
void keep_text_free(char *text);

/* What the ledger knows of a serial number. A number alone does not name one note: the same one may stand on notes of
 * several values, so the value counts too. */
struct serial_known {
    bool refused; /* such a note was refused or found later, and did not come back as genuine */
    bool open;    /* it is in another case that has not ended */
};
int32_t keep_serial_look(struct ledger *ledger, const char *currency, const char *serial, int64_t value_minor,
                         const char *case_id, struct serial_known *known, cfoil_error_info *error);

/* Fills everything but struct_size. */
int32_t keep_tender_check(struct ledger *ledger, const char *sale, cfoil_tender *tender, cfoil_error_info *error);

/* ---- Notes, for papers ---- */

/* Which notes; from and until bound the second and third kind (0 = open on that side). */
enum keep_notes_of {
    KEEP_NOTES_OF_CASE,     /* the note of one case */
    KEEP_NOTES_HELD,        /* in the shop's hands now */
    KEEP_NOTES_HANDED_OVER, /* by when the hand-over was recorded */
    KEEP_NOTES_REFUSED      /* refused or found, by when the case ended or the note was found */
};
struct keep_notes_wish {
    enum keep_notes_of of;
    const char *case_id; /* KEEP_NOTES_OF_CASE only */
    int64_t from_utc_ms, until_utc_ms;
};

/* An array, oldest first, to be freed with cJSON_Delete(). Each note has "case_id", "state" (null = no custody),
 * "envelope", "place", "currency", "value_minor", "serial", "lane", "sale", "disposition", "begun_utc_ms", "body" (of the
 * case's end, or of the finding) and "hand_over" (the body of that step, or null). */
int32_t keep_notes(struct ledger *ledger, const struct keep_notes_wish *wish, cJSON **notes, cfoil_error_info *error);

/* The name of the store, from entry 1, cut to the place. */
int32_t keep_store_name(struct ledger *ledger, char *name, size_t capacity, cfoil_error_info *error);

/* ---- Lists and the count ---- */

/* A CFOIL_LIST_* as JSON, to be freed with cJSON_Delete(). `only` narrows it, NULL = everything. */
int32_t keep_list(struct ledger *ledger, int32_t list, const char *only, cJSON **object, cfoil_error_info *error);

/* Held notes by record against the envelopes that were counted (a JSON array of texts). */
int32_t keep_reconcile(struct ledger *ledger, const cfoil_reconcile_options *options, cJSON **object,
                       cfoil_error_info *error);

#endif
