/*
 * The exported functions about who may do what: signing in, staff codes, rules of the store.
 */
#include "abi/context.h"
#include "abi/session.h"
#include "abi/structs.h"
#include "ledger/person.h"
#include "ledger/pin.h"
#include "model/error.h"
#include "model/text.h"

#define IDLE_DEFAULT_S 600u
#define IDLE_MAX_S     43200u

void session_free(cfoil_context *context, struct session *session)
{
    if (session == NULL)
        return;
    ledger_release(session->ledger);
    memory_release(&context->memory, session);
}

static int32_t signed_out_set(cfoil_error_info *error)
{
    return error_set(error, CFOIL_E_STATE_SIGNED_OUT, 0, "session",
                     "The time of this session is over, or it is of another ledger: sign in again.");
}

/* Is it this ledger's, and in time? Each use moves the end on. */
static int32_t session_use(struct handle *entered, const struct ledger *ledger, char staff[STAFF_MAX + 1])
{
    struct session *session = entered->body;
    uint64_t now_us = os_monotonic_us();
    os_mutex_lock(entered->context->lock);
    bool good = session->ledger == ledger && now_us < session->until_us;
    if (good)
        session->until_us = now_us + session->idle_us;
    os_mutex_unlock(entered->context->lock);
    text_copy(staff, STAFF_MAX + 1, session->staff);
    return good ? CFOIL_OK : CFOIL_E_STATE_SIGNED_OUT;
}

int32_t session_actor(cfoil_session *given, struct ledger *ledger, const char *name, char staff[STAFF_MAX + 1],
                      struct actor *actor, cfoil_error_info *error)
{
    *actor = (struct actor){name, false};
    if (given == NULL)
        return CFOIL_OK;
    struct handle *entered;
    int32_t result = handle_enter(given, HANDLE_SESSION, &entered);
    if (result != CFOIL_OK)
        return result;
    result = session_use(entered, ledger, staff);
    if (result != CFOIL_OK)
        (void)signed_out_set(error);
    (void)handle_leave(entered, result, error);
    *actor = (struct actor){staff, true};
    return result;
}

/* ---- Signing in and out ---- */

static int32_t sign_in_check(const char *staff, const char *pin, uint32_t seconds, cfoil_error_info *error)
{
    if (staff == NULL || pin == NULL)
        return CFOIL_E_ARGUMENT_NULL;
    if (!text_acceptable(staff, 1, STAFF_MAX) || !text_acceptable(pin, 1, PIN_LENGTH_MAX))
        return error_set(error, CFOIL_E_ARGUMENT_TEXT, 0, "session",
                         "A staff code is 1 to 32 bytes, a PIN at most 64 bytes.");
    if (seconds > IDLE_MAX_S)
        return error_set(error, CFOIL_E_ARGUMENT_RANGE, 0, "session", "A session lasts at most 43200 seconds.");
    return CFOIL_OK;
}

static int32_t session_make(struct handle *entered, const char *staff, uint32_t seconds, cfoil_session **session)
{
    cfoil_context *context = entered->context;
    struct session *made = memory_allocate(&context->memory, sizeof *made);
    if (made == NULL)
        return CFOIL_E_MEMORY;
    made->ledger = ledger_retain(entered->body);
    made->idle_us = (uint64_t)(seconds != 0 ? seconds : IDLE_DEFAULT_S) * 1000000u;
    made->until_us = os_monotonic_us() + made->idle_us;
    text_copy(made->staff, sizeof made->staff, staff);
    *session = (cfoil_session *)handle_create(context, HANDLE_SESSION, made);
    if (*session != NULL)
        return CFOIL_OK;
    session_free(context, made);
    return CFOIL_E_MEMORY;
}

int32_t cfoil_sign_in(cfoil_ledger *ledger, const char *staff, const char *pin, uint32_t seconds,
                      cfoil_session **session)
{
    if (session == NULL)
        return CFOIL_E_ARGUMENT_NULL;
    *session = NULL;
    struct handle *entered;
    int32_t role;
    int32_t result = handle_enter(ledger, HANDLE_LEDGER, &entered);
    if (result != CFOIL_OK)
        return result;
    cfoil_error_info error = CFOIL_ERROR_INFO_INIT;
    result = sign_in_check(staff, pin, seconds, &error);
    if (result == CFOIL_OK)
        result = access_sign_in(entered->body, staff, pin, &role, &error);
    uint32_t erased; /* personal data whose time is over; when that fails the next sign-in tries again */
    if (result == CFOIL_OK)
        (void)person_sweep(entered->body, &erased, NULL);
    if (result == CFOIL_OK)
        result = session_make(entered, staff, seconds, session);
    return handle_leave(entered, result, &error);
}

void cfoil_sign_out(cfoil_session *session)
{
    struct handle *entered;
    if (handle_enter(session, HANDLE_SESSION, &entered) != CFOIL_OK)
        return;
    cfoil_context *context = entered->context;
    int mine = handle_close_begin(entered);
    (void)handle_leave(entered, CFOIL_OK, NULL);
    if (mine)
        session_free(context, handle_close_end(entered));
}

/* ---- Staff and rules ---- */

static int32_t staff_check(const char *staff, int32_t role, const char *pin, cfoil_error_info *error)
{
    if (staff == NULL)
        return CFOIL_E_ARGUMENT_NULL;
    if (!text_acceptable(staff, 1, STAFF_MAX))
        return error_set(error, CFOIL_E_ARGUMENT_TEXT, 0, "session", "A staff code is 1 to 32 bytes of UTF-8.");
    if (role_name(role) == NULL)
        return error_set(error, CFOIL_E_ARGUMENT_RANGE, 0, "session", "The role must be one of CFOIL_ROLE_*.");
    if (pin != NULL && !text_acceptable(pin, PIN_LENGTH_MIN, PIN_LENGTH_MAX))
        return error_set(error, CFOIL_E_ARGUMENT_TEXT, 0, "session", "A PIN is 4 to 64 bytes: choose a longer one.");
    return CFOIL_OK;
}

int32_t cfoil_staff_set(cfoil_ledger *ledger, cfoil_session *session, const char *staff, int32_t role, const char *pin)
{
    struct handle *entered;
    int32_t result = handle_enter(ledger, HANDLE_LEDGER, &entered);
    if (result != CFOIL_OK)
        return result;
    cfoil_error_info error = CFOIL_ERROR_INFO_INIT;
    struct actor actor;
    char own[STAFF_MAX + 1];
    result = staff_check(staff, role, pin, &error);
    if (result == CFOIL_OK)
        result = session_actor(session, entered->body, NULL, own, &actor, &error);
    if (result == CFOIL_OK)
        result = access_staff_set(entered->body, &actor, staff, role, pin, NULL, &error);
    return handle_leave(entered, result, &error);
}

int32_t cfoil_setting_set(cfoil_ledger *ledger, cfoil_session *session, const char *staff, const char *name,
                          const char *value)
{
    struct handle *entered;
    int32_t result = handle_enter(ledger, HANDLE_LEDGER, &entered);
    if (result != CFOIL_OK)
        return result;
    cfoil_error_info error = CFOIL_ERROR_INFO_INIT;
    struct actor actor;
    char own[STAFF_MAX + 1];
    result = name == NULL || value == NULL ? CFOIL_E_ARGUMENT_NULL : CFOIL_OK;
    if (result == CFOIL_OK)
        result = session_actor(session, entered->body, staff, own, &actor, &error);
    if (result == CFOIL_OK)
        result = access_setting_set(entered->body, &actor, name, value, NULL, &error);
    return handle_leave(entered, result, &error);
}
