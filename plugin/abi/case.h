/*
 * What a case handle leads to, and how it is kept in the ledger while it is open.
 */
#ifndef ABI_CASE_H
#define ABI_CASE_H

#include "abi/context.h"
#include "model/uuid.h"

struct guidance;

/* A case and where it is recorded. */
struct open_case {
    struct guidance *guidance;
    struct ledger *ledger; /* NULL = guidance only */
};

void open_case_free(cfoil_context *context, struct open_case *open); /* NULL is harmless */

int32_t case_id_make(char text[UUID_TEXT_SIZE], cfoil_error_info *error);

/* Tells guidance how the machine of this lane has been doing. CFOIL_OK or CFOIL_E_MEMORY: a ledger that cannot be read now
 * leaves the default, and the case goes on. */
int32_t case_record_tell(struct open_case *open, const char *lane, cfoil_error_info *error);

/* Saves the case as it is now, so that it can be taken up again. A failure is told to the log: the cashier goes on. */
void case_keep(cfoil_context *context, const struct open_case *open);

/* Takes a case that nobody told anything out of the cases in work. */
void case_forget(cfoil_context *context, const struct open_case *open);

#endif
