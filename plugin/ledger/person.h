/*
 * Personal data of a case: sealed, apart from the entries, shown to few, erased when its time is over (docs/privacy.md).
 * The chain says that such data were written or erased, never what they are.
 */
#ifndef LEDGER_PERSON_H
#define LEDGER_PERSON_H

#include "ledger/access.h"

#define PERSON_TEXT_MAX 400u /* bytes of the longest of the texts */

/* Texts are checked, NULL = not given. */
struct person {
    const char *case_id;
    const char *name, *contact, *id_shown, *note;
    int64_t now_utc_ms, erase_after_utc_ms;
};

/* Writes it in the place of what was there for the case. Needs a signed-in cashier or supervisor, also in a ledger without
 * staff codes. CFOIL_E_MISSING_CASE, CFOIL_E_STATE_SIGNED_OUT, CFOIL_E_RULE_ROLE, or as key_seal(). */
int32_t person_write(struct ledger *ledger, const struct actor *actor, const struct person *person,
                     struct ledger_receipt *receipt, cfoil_error_info *error);

/* As JSON (schema counterfoil.person/1) for a signed-in supervisor or auditor; wiped and freed with person_text_free().
 * CFOIL_E_MISSING_ENTRY: nothing is kept for the case. */
int32_t person_read(struct ledger *ledger, const struct actor *actor, const char *case_id, char **text,
                    cfoil_error_info *error);
void person_text_free(char *text); /* NULL is harmless */

/* Erases what is kept for the case, for a supervisor (access_check()). CFOIL_E_MISSING_ENTRY. */
int32_t person_erase(struct ledger *ledger, const struct actor *actor, const char *case_id, cfoil_error_info *error);

/* Erases everything whose time is over; nobody need be named. *erased counts. A ledger that is open for reading is left as
 * it is. */
int32_t person_sweep(struct ledger *ledger, uint32_t *erased, cfoil_error_info *error);

#endif
