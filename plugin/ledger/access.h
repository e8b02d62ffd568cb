/*
 * Who may do what in this ledger: staff codes with roles and PINs, and the rules that the store has chosen.
 */
#ifndef LEDGER_ACCESS_H
#define LEDGER_ACCESS_H

#include "ledger/ledger.h"

#define STAFF_MAX 32u

/* Who does something: a name, and whether its PIN was given in this process. */
struct actor {
    const char *staff; /* NULL = nobody was named */
    bool signed_in;
};

/* Bits of what a role may do (table in docs/custody.md). */
#define ROLE_BIT(role)  (1u << (role))
#define ROLES_HANDS     (ROLE_BIT(CFOIL_ROLE_CASHIER) | ROLE_BIT(CFOIL_ROLE_SUPERVISOR))
#define ROLES_SUPERVISE ROLE_BIT(CFOIL_ROLE_SUPERVISOR)

const char *role_name(int32_t role); /* NULL = no such role */
int32_t role_find(const char *name); /* CFOIL_ROLE_NONE when there is none */

/* May this actor do what these roles may? In a ledger without staff a name is enough. Inside a transaction or with the
 * ledger's lock held. CFOIL_OK, CFOIL_E_STATE_SIGNED_OUT, CFOIL_E_RULE_ROLE, CFOIL_E_ARGUMENT_TEXT. */
int32_t access_check(struct ledger *ledger, const struct actor *actor, uint32_t roles, cfoil_error_info *error);

/* The same for a call that does not append anything itself. */
int32_t access_ask(struct ledger *ledger, const struct actor *actor, uint32_t roles, cfoil_error_info *error);

/* Checks a PIN and counts wrong ones, on the disk before the PIN is looked at. *role is set on success. */
int32_t access_sign_in(struct ledger *ledger, const char *staff, const char *pin, int32_t *role,
                       cfoil_error_info *error);

/* Makes, changes or ends (CFOIL_ROLE_NONE) a staff code. `pin` NULL keeps the one there is. */
int32_t access_staff_set(struct ledger *ledger, const struct actor *actor, const char *staff, int32_t role,
                         const char *pin, struct ledger_receipt *receipt, cfoil_error_info *error);

/* Sets a rule of the store. CFOIL_E_ARGUMENT_SETTING: no such rule or value. */
int32_t access_setting_set(struct ledger *ledger, const struct actor *actor, const char *name, const char *value,
                           struct ledger_receipt *receipt, cfoil_error_info *error);

/* Is a rule of the kind yes or no switched on? As access_check(). */
int32_t access_setting_on(struct ledger *ledger, const char *name, bool *on, cfoil_error_info *error);

#define SETTING_TWO_PERSONS "two_persons"

#endif
