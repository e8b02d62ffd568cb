/*
 * A session: who is signed in, to which ledger, for how long. It lives in memory only.
 */
#ifndef ABI_SESSION_H
#define ABI_SESSION_H

#include "abi/handle.h"
#include "ledger/access.h"

struct session {
    struct ledger *ledger;
    char staff[STAFF_MAX + 1];
    uint64_t idle_us;
    uint64_t until_us; /* on the monotonic clock; moved on by each use. Under the context's lock */
};

void session_free(cfoil_context *context, struct session *session); /* NULL is harmless */

/* Who acts: the person of the session (NULL = the name alone). A session of another ledger, or one whose time is over, is
 * no session: CFOIL_E_STATE_SIGNED_OUT. Copies the staff code into `staff`. */
int32_t session_actor(cfoil_session *given, struct ledger *ledger, const char *name, char staff[STAFF_MAX + 1],
                      struct actor *actor, cfoil_error_info *error);

#endif
