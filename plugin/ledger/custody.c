/*
 * Custody as a state machine. See custody.h; the reasons are in docs/custody.md.
 */
#include "ledger/custody.h"

#include <stddef.h>
#include <string.h>

static const char *const state_names[CUSTODY_STATE_COUNT] = {
    [CUSTODY_NONE] = "",
    [CUSTODY_WITH_CUSTOMER] = "with_customer",
    [CUSTODY_SET_ASIDE] = "set_aside",
    [CUSTODY_FOUND] = "found",
    [CUSTODY_SEALED] = "sealed",
    [CUSTODY_HANDED_OVER] = "handed_over",
    [CUSTODY_GENUINE] = "genuine",
    [CUSTODY_NOT_GENUINE] = "not_genuine",
    [CUSTODY_LOST] = "lost",
    [CUSTODY_GIVEN_BACK] = "given_back",
};

#define MOVE_COUNT (CFOIL_CUSTODY_GIVE_BACK + 1)
static const char *const move_names[MOVE_COUNT] = {
    [CFOIL_CUSTODY_FIND] = "find",       [CFOIL_CUSTODY_SEAL] = "seal",
    [CFOIL_CUSTODY_CARRY] = "carry",     [CFOIL_CUSTODY_HAND_OVER] = "hand_over",
    [CFOIL_CUSTODY_GENUINE] = "genuine", [CFOIL_CUSTODY_NOT_GENUINE] = "not_genuine",
    [CFOIL_CUSTODY_LOSE] = "lose",       [CFOIL_CUSTODY_GIVE_BACK] = "give_back",
};

#define HOLDER_COUNT (CFOIL_HOLDER_CENTRAL_BANK + 1)
static const char *const holder_names[HOLDER_COUNT] = {
    [CFOIL_HOLDER_BANK] = "bank",
    [CFOIL_HOLDER_POLICE] = "police",
    [CFOIL_HOLDER_CENTRAL_BANK] = "central_bank",
};

static const char *name_at(const char *const *names, int32_t count, int32_t place)
{
    return place > 0 && place < count ? names[place] : NULL;
}

const char *custody_state_name(enum custody_state state)
{
    return state_names[state];
}

enum custody_state custody_state_find(const char *name)
{
    for (int32_t i = 1; i < CUSTODY_STATE_COUNT; i++) {
        if (strcmp(state_names[i], name) == 0)
            return (enum custody_state)i;
    }
    return CUSTODY_NONE;
}

const char *custody_move_name(int32_t move)
{
    return name_at(move_names, MOVE_COUNT, move);
}

int32_t custody_move_find(const char *name)
{
    for (int32_t i = 1; i < MOVE_COUNT; i++) {
        if (strcmp(move_names[i], name) == 0)
            return i;
    }
    return 0;
}

const char *custody_holder_name(int32_t holder)
{
    return name_at(holder_names, HOLDER_COUNT, holder);
}

const char *custody_state_of_disposition(int32_t disposition, const char *envelope)
{
    if (disposition == CFOIL_DISPOSITION_NOT_TAKEN)
        return state_names[CUSTODY_WITH_CUSTOMER];
    if (disposition == CFOIL_DISPOSITION_SET_ASIDE)
        return state_names[envelope[0] != '\0' ? CUSTODY_SEALED : CUSTODY_SET_ASIDE];
    return NULL;
}

bool custody_held(enum custody_state state)
{
    return state == CUSTODY_SET_ASIDE || state == CUSTODY_FOUND || state == CUSTODY_SEALED;
}

enum custody_state custody_next(enum custody_state state, int32_t move, bool found)
{
    bool held = custody_held(state);
    switch (move) {
    case CFOIL_CUSTODY_FIND:
        return state == CUSTODY_NONE ? CUSTODY_FOUND : CUSTODY_NONE;
    case CFOIL_CUSTODY_SEAL: /* also: into another envelope, and what was lost and is there again */
        return held || state == CUSTODY_LOST ? CUSTODY_SEALED : CUSTODY_NONE;
    case CFOIL_CUSTODY_CARRY:
        return held ? state : CUSTODY_NONE;
    case CFOIL_CUSTODY_HAND_OVER:
        return held ? CUSTODY_HANDED_OVER : CUSTODY_NONE;
    case CFOIL_CUSTODY_GENUINE:
        return state == CUSTODY_HANDED_OVER ? CUSTODY_GENUINE : CUSTODY_NONE;
    case CFOIL_CUSTODY_NOT_GENUINE:
        return state == CUSTODY_HANDED_OVER ? CUSTODY_NOT_GENUINE : CUSTODY_NONE;
    case CFOIL_CUSTODY_LOSE:
        return held ? CUSTODY_LOST : CUSTODY_NONE;
    case CFOIL_CUSTODY_GIVE_BACK: /* never what was found later: that was taken as payment once */
        return !found && (state == CUSTODY_SET_ASIDE || state == CUSTODY_SEALED) ? CUSTODY_GIVEN_BACK : CUSTODY_NONE;
    default:
        return CUSTODY_NONE;
    }
}

struct custody_needs custody_needs_of(int32_t move, enum custody_state state)
{
    struct custody_needs needs = {
        .envelope = move == CFOIL_CUSTODY_SEAL,
        .place = move == CFOIL_CUSTODY_FIND || move == CFOIL_CUSTODY_CARRY,
        .holder = move == CFOIL_CUSTODY_HAND_OVER,
        .receipt = move == CFOIL_CUSTODY_HAND_OVER,
        /* Whatever is out of the ordinary is explained: another envelope, found again, lost, given back. */
        .why = move == CFOIL_CUSTODY_LOSE || move == CFOIL_CUSTODY_GIVE_BACK ||
               (move == CFOIL_CUSTODY_SEAL && (state == CUSTODY_SEALED || state == CUSTODY_LOST)),
        .value = move == CFOIL_CUSTODY_FIND,
        .second = move == CFOIL_CUSTODY_SEAL || move == CFOIL_CUSTODY_HAND_OVER || move == CFOIL_CUSTODY_LOSE ||
                  move == CFOIL_CUSTODY_GIVE_BACK,
    };
    return needs;
}
