/*
 * What the bytes of a POLL answer mean. See codes.h.
 *
 * Source: MDB/ICP 4.3 section 6, POLL. 'One text' = read in one published decoder of that section, and agrees with
 * memory; 'memory' = remembered from versions 3.0 to 4.3. Each row names its trust. An unknown byte is told as unknown
 * and is never money.
 */
#include "codes.h"

#include <stddef.h>

#define ONE_TEXT "MDB/ICP 4.3 section 6, POLL; one text, agrees with memory"
#define MEMORY   "MDB/ICP 4.3 section 6, POLL; from memory"

#define POSSIBLE(reason)     (1u << (reason))
#define UNKNOWN_OR_AUTHENTIC (POSSIBLE(CFOIL_REASON_AUTHENTICITY) | POSSIBLE(CFOIL_REASON_NOT_RECOGNISED))

static const struct mdb_route_code routes[] = {
    {MDB_ROUTE_STACKED, CFOIL_KIND_STACKED, CFOIL_REASON_NONE, 0, "The note went to the cash box.", ONE_TEXT},
    {MDB_ROUTE_ESCROW, CFOIL_KIND_HELD, CFOIL_REASON_NONE, 0, "A note is held; no money yet.", ONE_TEXT},
    {MDB_ROUTE_RETURNED, CFOIL_KIND_RETURNED, CFOIL_REASON_NONE, 0, "The note went back to the customer.", ONE_TEXT},
    {MDB_ROUTE_RECYCLER, CFOIL_KIND_STACKED, CFOIL_REASON_NONE, 0, "The note went to the recycler.", ONE_TEXT},
    {MDB_ROUTE_REJECTED, CFOIL_KIND_REJECTED, CFOIL_REASON_NOT_ENABLED, POSSIBLE(CFOIL_REASON_NOT_ENABLED),
     "Not taken: the validator was told not to take this value.", ONE_TEXT},
    {MDB_ROUTE_FILLED, CFOIL_KIND_NONE, CFOIL_REASON_NONE, 0, "Service filled a note into the recycler.",
     ONE_TEXT "; 'manual fill' from memory"},
    {MDB_ROUTE_DISPENSED, CFOIL_KIND_NONE, CFOIL_REASON_NONE, 0, "Service took a note out of the recycler.", ONE_TEXT},
    {MDB_ROUTE_TRANSFERRED, CFOIL_KIND_NONE, CFOIL_REASON_NONE, 0, "A note moved from the recycler to the cash box.",
     ONE_TEXT},
};

/* A row that tells a condition of the device. */
#define CONDITION(code, effect, condition, text)                                                                       \
    {                                                                                                                  \
        code, effect, CFOIL_KIND_DEVICE, CFOIL_REASON_DEVICE, POSSIBLE(CFOIL_REASON_DEVICE), condition, text, ONE_TEXT \
    }

#define TAMPERING(code, effect, text)                                                                                  \
    {                                                                                                                  \
        code, effect, CFOIL_KIND_DEVICE, CFOIL_REASON_TAMPERING, POSSIBLE(CFOIL_REASON_TAMPERING),                     \
            CFOIL_CONDITION_TAMPERING, text, ONE_TEXT                                                                  \
    }

/* A row that only goes to the log. */
#define NOTICE(code, effect, text, source)                                                                             \
    {                                                                                                                  \
        code, effect, CFOIL_KIND_NONE, CFOIL_REASON_NONE, 0, CFOIL_CONDITION_NONE, text, source                        \
    }

static const struct mdb_status_code statuses[] = {
    CONDITION(0x01, MDB_EFFECT_FAULT, CFOIL_CONDITION_FAULT, "The validator reports a fault of a motor."),
    CONDITION(0x02, MDB_EFFECT_FAULT, CFOIL_CONDITION_FAULT, "The validator reports a fault of a sensor."),
    NOTICE(0x03, MDB_EFFECT_NONE, "The validator is busy.", ONE_TEXT),
    CONDITION(0x04, MDB_EFFECT_FAULT, CFOIL_CONDITION_FAULT, "The validator reports a fault of its program memory."),
    CONDITION(0x05, MDB_EFFECT_FAULT, CFOIL_CONDITION_JAM_REACHABLE,
              "A note is jammed; the customer may be able to reach it."),
    NOTICE(0x06, MDB_EFFECT_RESET, "The validator was reset.", ONE_TEXT), /* told by the session: not when we asked */
    TAMPERING(0x07, MDB_EFFECT_REMOVED, "The held note was removed in a way that the validator does not know."),
    CONDITION(0x08, MDB_EFFECT_BOX, CFOIL_CONDITION_STACKER_REMOVED, "The cash box is out of its place."),
    NOTICE(0x09, MDB_EFFECT_DISABLED, "The validator says that it is disabled.", ONE_TEXT),
    NOTICE(0x0A, MDB_EFFECT_NO_NOTE, "The validator has no note for our stack or return command.", ONE_TEXT),
    /* 'Not identified' says no more than that: nothing in MDB/ICP tells why. */
    {0x0B, MDB_EFFECT_NONE, CFOIL_KIND_REJECTED, CFOIL_REASON_NOT_RECOGNISED, UNKNOWN_OR_AUTHENTIC,
     CFOIL_CONDITION_NONE, "Not taken: the validator could not identify the note. It does not say why.", ONE_TEXT},
    TAMPERING(0x0C, MDB_EFFECT_TAMPERED, "Somebody may have tried to pull back a note that was credited."),
    NOTICE(0x1B, MDB_EFFECT_IGNORED, "File transfer request.", MEMORY),
    NOTICE(0x1C, MDB_EFFECT_IGNORED, "File transfer request.", MEMORY),
    NOTICE(0x1D, MDB_EFFECT_IGNORED, "File transfer request.", MEMORY),
    NOTICE(0x1E, MDB_EFFECT_IGNORED, "File transfer request.", MEMORY),
    NOTICE(0x1F, MDB_EFFECT_IGNORED, "File transfer request.", MEMORY),
    NOTICE(0x21, MDB_EFFECT_NONE, "The customer asks for the held note back.", ONE_TEXT),
    NOTICE(0x22, MDB_EFFECT_NONE, "The recycler is paying out.", ONE_TEXT),
    NOTICE(0x23, MDB_EFFECT_NONE, "The recycler is busy.", ONE_TEXT),
    CONDITION(0x24, MDB_EFFECT_RECYCLER, CFOIL_CONDITION_FAULT, "The recycler reports a fault of a sensor."),
    CONDITION(0x26, MDB_EFFECT_RECYCLER, CFOIL_CONDITION_FAULT, "The recycler reports a fault of its motor."),
    CONDITION(0x27, MDB_EFFECT_RECYCLER, CFOIL_CONDITION_JAM_SAFE, "The recycler is jammed."),
    CONDITION(0x28, MDB_EFFECT_RECYCLER, CFOIL_CONDITION_FAULT, "The recycler reports a fault of its program memory."),
    NOTICE(0x29, MDB_EFFECT_NONE, "The recycler is disabled.", ONE_TEXT),
    NOTICE(0x2A, MDB_EFFECT_NONE, "A note of the recycler waits to be taken.", ONE_TEXT),
    NOTICE(0x2F, MDB_EFFECT_NONE, "The key for 'recycler filled' was pressed.", ONE_TEXT),
};

static const struct mdb_status_code status_unknown = {
    0,
    MDB_EFFECT_UNKNOWN,
    CFOIL_KIND_DEVICE,
    CFOIL_REASON_NONE,
    0,
    CFOIL_CONDITION_UNKNOWN_CODE,
    "The validator sent a code that the tables do not have.",
    "not assigned; from memory",
};

enum mdb_class mdb_class_of(uint8_t byte)
{
    if ((byte & 0x80) != 0)
        return MDB_CLASS_ROUTED;
    return (byte & 0xE0) == 0x40 ? MDB_CLASS_ATTEMPTS : MDB_CLASS_STATUS;
}

const struct mdb_route_code *mdb_route_find(uint8_t byte)
{
    return &routes[byte >> 4 & 7]; /* the table is dense from 0, which tests/unit/adapters checks */
}

const struct mdb_status_code *mdb_status_find(uint8_t byte)
{
    for (size_t i = 0; i < sizeof statuses / sizeof statuses[0]; i++) {
        if (statuses[i].code == byte)
            return &statuses[i];
    }
    return &status_unknown;
}
