/*
 * What the bytes of a POLL answer mean: constant tables with the source and the trust of each row.
 */
#ifndef MDB_CODES_H
#define MDB_CODES_H

#include <counterfoil/adapter.h>

/* The masks of MDB/ICP 4.3 section 6, POLL, in the order in which a byte is tried. */
enum mdb_class {
    MDB_CLASS_ROUTED,   /* 1rrr tttt: what became of a note of type t */
    MDB_CLASS_ATTEMPTS, /* 010n nnnn: notes fed while disabled */
    MDB_CLASS_STATUS    /* all others: the table of statuses, or unknown */
};

enum mdb_class mdb_class_of(uint8_t byte);

enum mdb_route {
    MDB_ROUTE_STACKED = 0,
    MDB_ROUTE_ESCROW = 1,
    MDB_ROUTE_RETURNED = 2,
    MDB_ROUTE_RECYCLER = 3,
    MDB_ROUTE_REJECTED = 4,
    MDB_ROUTE_FILLED = 5,    /* into the recycler by service staff */
    MDB_ROUTE_DISPENSED = 6, /* out of the recycler by service staff */
    MDB_ROUTE_TRANSFERRED = 7
};

struct mdb_route_code {
    enum mdb_route route;
    int32_t kind;              /* CFOIL_KIND_*; NONE = the log only */
    int32_t reason;            /* CFOIL_REASON_* */
    uint32_t reasons_possible; /* 1u << CFOIL_REASON_* */
    const char *text;
    const char *source;
};

/* Never NULL: all eight routes are assigned. `byte` is of MDB_CLASS_ROUTED. */
const struct mdb_route_code *mdb_route_find(uint8_t byte);

/* What a status does to the session, besides being told. */
enum mdb_effect {
    MDB_EFFECT_NONE,     /* told if it has a kind, else logged */
    MDB_EFFECT_IGNORED,  /* part of what we do not use */
    MDB_EFFECT_FAULT,    /* no notes until it has gone */
    MDB_EFFECT_RESET,    /* 06 */
    MDB_EFFECT_REMOVED,  /* 07: tampering, and the held note is on its way out */
    MDB_EFFECT_TAMPERED, /* 0C */
    MDB_EFFECT_BOX,      /* 08 */
    MDB_EFFECT_DISABLED, /* 09 */
    MDB_EFFECT_NO_NOTE,  /* 0A */
    MDB_EFFECT_RECYCLER, /* fault of a part that takes no notes */
    MDB_EFFECT_UNKNOWN
};

struct mdb_status_code {
    uint8_t code;
    enum mdb_effect effect;
    int32_t kind; /* CFOIL_KIND_*; NONE = the log only */
    int32_t reason;
    uint32_t reasons_possible;
    int32_t condition; /* CFOIL_CONDITION_* */
    const char *text;
    const char *source;
};

/* Never NULL: a byte that the tables do not have gets the row for unknown codes. `byte` is of MDB_CLASS_STATUS. */
const struct mdb_status_code *mdb_status_find(uint8_t byte);

#endif
