/*
 * Custody: where a doubtful note is, which moves are legal from there, and what each move needs. Pure functions.
 * There is no way back into the till and none back to the customer after a note was taken as payment.
 */
#ifndef LEDGER_CUSTODY_H
#define LEDGER_CUSTODY_H

#include <counterfoil/counterfoil.h>
#include <stdbool.h>

enum custody_state {
    CUSTODY_NONE = 0,          /* no note that the ledger knows of */
    CUSTODY_WITH_CUSTOMER = 1, /* not taken, left with the customer: the end */
    CUSTODY_SET_ASIDE = 2,     /* kept, not in an envelope yet */
    CUSTODY_FOUND = 3,         /* found in the till or in a bundle, not in an envelope yet */
    CUSTODY_SEALED = 4,        /* in a numbered envelope */
    CUSTODY_HANDED_OVER = 5,   /* at the bank, the police or the central bank, against a receipt */
    CUSTODY_GENUINE = 6,       /* came back as genuine: the end */
    CUSTODY_NOT_GENUINE = 7,   /* the authority found it not genuine: the end */
    CUSTODY_LOST = 8,          /* not where it should be */
    CUSTODY_GIVEN_BACK = 9,    /* given back to the customer at once, for somebody's safety: the end */
    CUSTODY_STATE_COUNT = 10
};

const char *custody_state_name(enum custody_state state); /* "" for NONE */
enum custody_state custody_state_find(const char *name);  /* NONE when there is no such state */
const char *custody_move_name(int32_t move);              /* NULL = no such move */
int32_t custody_move_find(const char *name);              /* 0 = none */
const char *custody_state_of_disposition(int32_t disposition, const char *envelope); /* NULL = no custody */
const char *custody_holder_name(int32_t holder);                                     /* NULL = no such holder */

/* Is the note in the shop's hands? Such notes are counted at the end of a shift. */
bool custody_held(enum custody_state state);

/* Where the move leads from there; NONE = not legal. `found`: it came from the till, not from a customer. */
enum custody_state custody_next(enum custody_state state, int32_t move, bool found);

/* What a move needs besides a name. */
struct custody_needs {
    bool envelope, place, holder, receipt, why, value;
    bool second; /* where the store asks for two persons */
};
struct custody_needs custody_needs_of(int32_t move, enum custody_state state);

#endif
