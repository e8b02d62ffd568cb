/*
 * The ledger: an append-only SQLite store in which each entry is hashed over the one before.
 * Nothing outside this folder touches SQLite.
 */
#ifndef LEDGER_LEDGER_H
#define LEDGER_LEDGER_H

#include "model/memory.h"

#include <cjson/cJSON.h>
#include <counterfoil/counterfoil.h>
#include <stdbool.h>

struct ledger; /* counted; one connection, safe for calls from several threads */

/* Kinds of entries. Bodies are canonical JSON (model/json.h). */
#define LEDGER_KIND_OPENED       "opened"       /* entry 1: store name, format */
#define LEDGER_KIND_PRESENTATION "presentation" /* a HELD, STACKED, RETURNED or REJECTED event: event JSON + "lane" */
#define LEDGER_KIND_DEVICE       "device"       /* a DEVICE, LOST_EVENTS or LANE_STATE event: event JSON + "lane" */
#define LEDGER_KIND_CASE         "case"         /* a disposition: case JSON */
#define LEDGER_KIND_CUSTODY      "custody"      /* what became of a kept note: counterfoil.custody/1 */
#define LEDGER_KIND_STAFF        "staff"        /* who may do what: counterfoil.staff/1, never a PIN */
#define LEDGER_KIND_SETTING      "setting"      /* a rule of the store: counterfoil.setting/1 */
#define LEDGER_KIND_KEY          "key"          /* the store's public key, or a new one: counterfoil.key/1 */
#define LEDGER_KIND_CHECKPOINT   "checkpoint"   /* where the chain stood, signed: counterfoil.checkpoint/1 */
#define LEDGER_KIND_PERSON       "person" /* personal data were written or erased: counterfoil.person_step/1, never what */
#define LEDGER_KIND_IMPORT       "import" /* the entries before it were imported: counterfoil.import/1 */
#define LEDGER_KIND_FORMAT       "format" /* an older file was brought to this version: counterfoil.format/1 */

struct ledger_item {
    const char *kind;
    int64_t time_utc_ms;
    const char *body;     /* canonical JSON text */
    const char *case_id;  /* LEDGER_KIND_CASE only, else NULL */
    int32_t disposition;  /* LEDGER_KIND_CASE only, else 0 */
    const char *currency; /* of the serial number, or NULL */
    const char *serial;   /* normalised serial number of a refused note, or NULL */
};

struct ledger_receipt {
    int64_t number;
    char hash[65];
};

/* What a device told that must survive a restart, stored in the same transaction as the items. */
struct ledger_device_memory {
    const char *device;
    const uint8_t *bytes;
    uint32_t length; /* <= 64 */
};

int32_t ledger_open(const struct memory *memory, const cfoil_ledger_options *options, struct ledger **ledger,
                    cfoil_error_info *error);
struct ledger *ledger_retain(struct ledger *ledger);
void ledger_release(struct ledger *ledger); /* the last one closes the file; NULL is harmless */

/* The allocator that the ledger was opened with; lives as long as the ledger. */
const struct memory *ledger_memory(const struct ledger *ledger);

/* Appends all items and the device memory (may be NULL) in one durable transaction, or nothing. `receipts` holds
 * `count` places or is NULL. A case that the ledger holds as refused cannot be appended as taken
 * (CFOIL_E_RULE_REFUSED), and a case can have one disposition only (CFOIL_E_STATE_CASE_ENDED). */
int32_t ledger_append(struct ledger *ledger, const struct ledger_item *items, uint32_t count,
                      const struct ledger_device_memory *device_memory, struct ledger_receipt *receipts,
                      cfoil_error_info *error);

/* Bytes stored for a device; *length = 0 when there are none. */
int32_t ledger_device_load(struct ledger *ledger, const char *device, uint8_t *bytes, uint32_t capacity,
                           uint32_t *length, cfoil_error_info *error);

int32_t ledger_serial_refused(struct ledger *ledger, const char *currency, const char *serial, bool *refused,
                              cfoil_error_info *error);

/* The entry as JSON text (schema "counterfoil.entry/1"), to be freed with cJSON_free(). number 0 = the newest. */
int32_t ledger_entry_text(struct ledger *ledger, int64_t number, char **text, cfoil_error_info *error);

/* The same for the entry that holds the end of a case. */
int32_t ledger_case_text(struct ledger *ledger, const char *case_id, char **text, cfoil_error_info *error);

/* The body of an entry as JSON, to be freed with cJSON_Delete(); NULL when other hands have made it unreadable. Tells
 * that from CFOIL_E_MEMORY. */
int32_t ledger_body_parse(const char *body, cJSON **parsed);

/* Walks the entries of a period in order, as they are now; 0 leaves the period open on that side. The callback returns
 * false to stop, and may call the ledger. Texts are borrowed for the call. */
typedef bool (*ledger_visit)(void *user, int64_t number, const char *kind, int64_t time_utc_ms, const char *body);
int32_t ledger_walk(struct ledger *ledger, int64_t from_utc_ms, int64_t until_utc_ms, ledger_visit visit, void *user,
                    cfoil_error_info *error);

/* The same for the newest entries, at most so many, oldest first. */
int32_t ledger_walk_newest(struct ledger *ledger, uint32_t entries, ledger_visit visit, void *user,
                           cfoil_error_info *error);

/* Fills everything but struct_size, also when the file cannot be read to its end (CFOIL_E_LEDGER_DAMAGED). */
int32_t ledger_verify(struct ledger *ledger, cfoil_ledger_check *check, cfoil_error_info *error);

#endif
