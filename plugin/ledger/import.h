/*
 * How do records from elsewhere come into this ledger, each once? Event histories and whole ledgers, line by line.
 */
#ifndef LEDGER_IMPORT_H
#define LEDGER_IMPORT_H

#include "ledger/access.h"
#include "ledger/chain.h"
#include "ledger/checkpoint.h"

#define IMPORT_BATCH_DEFAULT 4096u /* lines in one transaction */
#define IMPORT_BATCH_MAX     100000u
#define IMPORT_LINE_MAX      1048576u /* bytes of one line */

/* The options are checked already. Fills `told` whatever the result, but for struct_size. */
int32_t ledger_import(struct ledger *ledger, const cfoil_import_options *options, const struct actor *actor,
                      cfoil_import_result *told, cfoil_error_info *error);

/* Fills the table of imported records from the entries. Inside a transaction; answers an SQLite code. */
int import_records_make(struct ledger *ledger);

/* ---- Inside the import ---- */

/* What one line gives. */
struct import_record {
    uint8_t id[16];
    int64_t line;
    const char *kind; /* of the entry */
    int64_t time_utc_ms;
    char *body;       /* canonical; cJSON_free() */
    char case_id[65]; /* of a case, else "" */
    int32_t disposition;
    char currency[4];                  /* of the serial number, or "" */
    char serial[33];                   /* of a note that was refused, or "" */
    uint8_t own_hash[CHAIN_HASH_SIZE]; /* IMPORT_OWN: what the entry must be */
    int64_t own_number;
};

enum import_verdict {
    IMPORT_TAKE,
    IMPORT_LEAVE, /* of a kind that stays with its ledger */
    IMPORT_OWN,   /* of the ledger that imports: must be there already */
    IMPORT_BAD,   /* *fault tells why */
    IMPORT_MEMORY
};

struct import_fault {
    int32_t result;
    char text[160];
};

struct import_line {
    const char *text;
    size_t length;
    int64_t number;
};

/* The ledger that is imported, as its first line and the chain up to here tell it. */
struct import_source {
    char identity[65];
    char store[65];
    int64_t entries;
    char head[65];
    int64_t expected; /* number of the entry that must come next */
    uint8_t hash[CHAIN_HASH_SIZE];
    struct checkpoint_state state;
};

enum import_verdict import_bad(struct import_fault *fault, int32_t result, const char *text);

/* Parses a line; NULL with the verdict set. To be freed with cJSON_Delete(). */
cJSON *import_line_parse(const struct import_line *line, enum import_verdict *verdict, struct import_fault *fault);

/* Is the line the first one of an export? */
bool import_heading_is(const cJSON *object);

/* IMPORT_TAKE when the heading is good. */
enum import_verdict import_heading_read(const cJSON *object, struct import_source *source, struct import_fault *fault);

/* A line of an event history. */
enum import_verdict import_event_read(const struct import_line *line, struct import_record *record,
                                      struct import_fault *fault);

/* A line of a whole ledger: checks that it follows in the chain. With `record` NULL it is only checked. `own` is the
 * identity of the ledger that imports. */
enum import_verdict import_entry_read(const struct import_line *line, struct import_source *source, const char *own,
                                      struct import_record *record, struct import_fault *fault);

/* The end of a whole ledger: is all of it there? IMPORT_TAKE or IMPORT_BAD. */
enum import_verdict import_end_check(const struct import_source *source, struct import_fault *fault);

/* Where an entry was imported from, as its body tells it. False when it does not, or was not. */
bool import_record_id_read(const cJSON *body, uint8_t id[16]);

#endif
