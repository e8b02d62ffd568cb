/*
 * A line of another ledger's export: does it stand in that ledger's chain, and what becomes its entry here? See import.h.
 */
#include "ledger/import.h"

#include "ledger/hex.h"
#include "model/json.h"
#include "model/json_scan.h"
#include "model/names.h"
#include "model/text.h"
#include "model/uuid.h"

#include <sodium.h>
#include <stdio.h>
#include <string.h>

static const char *text_in(const cJSON *object, const char *key)
{
    const char *text = cJSON_GetStringValue(cJSON_GetObjectItemCaseSensitive(object, key));
    return text != NULL ? text : "";
}

/* A whole number of 1..2^53, else 0. */
static int64_t number_in(const cJSON *object, const char *key)
{
    const cJSON *item = cJSON_GetObjectItemCaseSensitive(object, key);
    double number = cJSON_IsNumber(item) ? item->valuedouble : 0;
    return number >= 1 && number <= 9007199254740992.0 && (double)(int64_t)number == number ? (int64_t)number : 0;
}

/* ---- The first line ---- */

bool import_heading_is(const cJSON *object)
{
    return strcmp(text_in(object, "schema"), "counterfoil.export/1") == 0;
}

enum import_verdict import_heading_read(const cJSON *object, struct import_source *source, struct import_fault *fault)
{
    uint8_t hash[CHAIN_HASH_SIZE];
    const cJSON *head = cJSON_GetObjectItemCaseSensitive(object, "head");
    memset(source, 0, sizeof *source);
    source->expected = 1;
    source->entries = number_in(object, "entries");
    if (!cJSON_IsNull(cJSON_GetObjectItemCaseSensitive(object, "from")) ||
        !cJSON_IsNull(cJSON_GetObjectItemCaseSensitive(object, "until")))
        return import_bad(fault, CFOIL_E_DATA_SCHEMA,
                          "the export holds a period only, whose chain cannot be checked: export the whole ledger");
    if (!hex_text_read(text_in(object, "ledger"), hash, sizeof hash) ||
        !hex_text_read(text_in(head, "hash"), hash, sizeof hash) || source->entries == 0 ||
        number_in(head, "entry") != source->entries || number_in(object, "last") != source->entries ||
        !text_acceptable(text_in(object, "store"), 0, 64))
        return import_bad(fault, CFOIL_E_DATA_SCHEMA, "the first line does not describe a whole ledger");
    text_copy(source->identity, sizeof source->identity, text_in(object, "ledger"));
    text_copy(source->head, sizeof source->head, text_in(head, "hash"));
    text_copy(source->store, sizeof source->store, text_in(object, "store"));
    return IMPORT_TAKE;
}

/* ---- The chain ---- */

/* An entry of the export; texts are borrowed from its line. */
struct entry {
    int64_t number;
    int64_t time_utc_ms;
    int32_t disposition;
    const char *kind;
    const char *case_id; /* NULL = none */
    char *body;          /* as it was hashed; cJSON_free() */
    const cJSON *body_parsed;
    uint8_t previous[CHAIN_HASH_SIZE];
    uint8_t hash[CHAIN_HASH_SIZE];
};

/* The body byte for byte: the chain hashes what stands there, not what it means. */
static char *body_copy(const struct import_line *line, const cJSON *body)
{
    const char *value;
    size_t length;
    if (cJSON_IsString(body)) {
        value = body->valuestring;
        length = strlen(value);
    } else if (!json_member_find(line->text, line->length, "body", &value, &length)) {
        return NULL;
    }
    char *copy = cJSON_malloc(length + 1);
    if (copy == NULL)
        return NULL;
    memcpy(copy, value, length);
    copy[length] = '\0';
    return copy;
}

static bool disposition_read(const cJSON *object, struct entry *entry)
{
    const cJSON *word = cJSON_GetObjectItemCaseSensitive(object, "disposition");
    entry->disposition = CFOIL_DISPOSITION_NONE;
    if (entry->case_id == NULL)
        return word == NULL;
    entry->disposition = cJSON_IsString(word) ? name_disposition_find(word->valuestring) : -1;
    return entry->disposition >= 0;
}

static enum import_verdict entry_parse(const struct import_line *line, const cJSON *object, struct entry *entry,
                                       struct import_fault *fault)
{
    const cJSON *body = cJSON_GetObjectItemCaseSensitive(object, "body");
    memset(entry, 0, sizeof *entry);
    entry->number = number_in(object, "entry");
    entry->kind = text_in(object, "kind");
    entry->case_id = cJSON_GetStringValue(cJSON_GetObjectItemCaseSensitive(object, "case_id"));
    entry->body_parsed = cJSON_IsObject(body) ? body : NULL;
    if (strcmp(text_in(object, "schema"), "counterfoil.entry/1") != 0 || entry->number == 0 || entry->kind[0] == '\0' ||
        !text_time_read(text_in(object, "time"), &entry->time_utc_ms) || !disposition_read(object, entry) ||
        !hex_read(object, "previous", entry->previous, CHAIN_HASH_SIZE) ||
        !hex_read(object, "hash", entry->hash, CHAIN_HASH_SIZE) || (!cJSON_IsObject(body) && !cJSON_IsString(body)))
        return import_bad(fault, CFOIL_E_DATA_SCHEMA, "the line is no whole entry of a ledger (counterfoil.entry/1)");
    entry->body = body_copy(line, body);
    return entry->body != NULL ? IMPORT_TAKE : IMPORT_MEMORY;
}

static enum import_verdict chain_bad(struct import_fault *fault, const char *what)
{
    return import_bad(fault, CFOIL_E_DATA_CHAIN, what);
}

/* What keys and checkpoints sign, where the other ledger has any. */
static enum import_verdict signed_check(struct import_source *source, const struct entry *entry,
                                        struct import_fault *fault)
{
    const char *wrong = NULL;
    struct signed_place place = {.number = entry->number - 1, .time_utc_ms = entry->time_utc_ms};
    memcpy(place.hash, source->hash, sizeof place.hash);
    if (checkpoint_entry_check(&source->state, entry->kind, entry->body, &place, &wrong) != CFOIL_OK)
        return IMPORT_MEMORY;
    return wrong == NULL ? IMPORT_TAKE : chain_bad(fault, wrong);
}

/* Moves the chain on by this entry. */
static enum import_verdict chain_follow(struct import_source *source, const struct entry *entry,
                                        struct import_fault *fault)
{
    uint8_t hash[CHAIN_HASH_SIZE];
    char identity[2 * CHAIN_HASH_SIZE + 1];
    struct chain_entry hashed = {
        .number = entry->number,
        .time_utc_ms = entry->time_utc_ms,
        .disposition = entry->disposition,
        .kind = chain_text_of(entry->kind),
        .case_id = chain_text_of(entry->case_id),
        .body = chain_text_of(entry->body),
    };
    if (entry->number != source->expected)
        return chain_bad(fault, "an entry is missing before this one, or stands twice");
    if (memcmp(entry->previous, source->hash, CHAIN_HASH_SIZE) != 0)
        return chain_bad(fault, "the entry does not follow the one before it");
    chain_hash(source->hash, &hashed, hash);
    if (memcmp(hash, entry->hash, CHAIN_HASH_SIZE) != 0)
        return chain_bad(fault, "the entry was altered: its hash is another one");
    text_hex(hash, sizeof hash, identity);
    if (entry->number == 1 && strcmp(identity, source->identity) != 0)
        return chain_bad(fault, "the first entry is not that of the ledger that the first line names");
    enum import_verdict verdict = signed_check(source, entry, fault);
    memcpy(source->hash, hash, sizeof hash);
    source->expected++;
    return verdict;
}

enum import_verdict import_end_check(const struct import_source *source, struct import_fault *fault)
{
    char hash[2 * CHAIN_HASH_SIZE + 1];
    text_hex(source->hash, CHAIN_HASH_SIZE, hash);
    if (source->expected - 1 != source->entries || strcmp(hash, source->head) != 0)
        return chain_bad(fault, "entries are missing at the end: the first line names more, or another last one");
    return IMPORT_TAKE;
}

/* ---- What becomes its entry ---- */

/* What happened at lanes and with notes comes along. Rules, people and keys stay with their ledger. */
static const char *kind_taken(const char *kind)
{
    static const char *const kinds[] = {LEDGER_KIND_PRESENTATION, LEDGER_KIND_DEVICE, LEDGER_KIND_CASE,
                                        LEDGER_KIND_CUSTODY};
    for (size_t i = 0; i < sizeof kinds / sizeof kinds[0]; i++) {
        if (strcmp(kinds[i], kind) == 0)
            return kinds[i];
    }
    return NULL;
}

/* A UUID of version 8 (RFC 9562 section 5.8): the time of the entry, so that ids sort by time, then bits of the SHA-256 over
 * the ledger's identity and the entry's number. The same entry has the same id in every import. */
static void record_id_make(const char *identity, const struct entry *entry, uint8_t id[16])
{
    static const char label[] = "counterfoil.record/1";
    uint8_t number[8];
    uint8_t hash[crypto_hash_sha256_BYTES];
    crypto_hash_sha256_state state;
    for (int i = 0; i < 8; i++)
        number[i] = (uint8_t)((uint64_t)entry->number >> (56 - 8 * i));
    (void)crypto_hash_sha256_init(&state);
    (void)crypto_hash_sha256_update(&state, (const uint8_t *)label, sizeof label);
    (void)crypto_hash_sha256_update(&state, (const uint8_t *)identity, strlen(identity));
    (void)crypto_hash_sha256_update(&state, number, sizeof number);
    (void)crypto_hash_sha256_final(&state, hash);
    for (int i = 0; i < 6; i++)
        id[i] = (uint8_t)((uint64_t)entry->time_utc_ms >> (40 - 8 * i));
    memcpy(id + 6, hash, 10);
    uuid_mark(id, 8);
}

bool import_record_id_read(const cJSON *body, uint8_t id[16])
{
    const cJSON *origin = cJSON_GetObjectItemCaseSensitive(body, "origin");
    return cJSON_IsObject(origin) && uuid_read(text_in(origin, "record"), id);
}

static bool origin_add(cJSON *body, const struct import_source *source, const struct entry *entry, const uint8_t id[16])
{
    char text[UUID_TEXT_SIZE];
    cJSON *origin = json_object_add(body, "origin");
    uuid_text(id, text);
    return json_text_add(origin, "record", text) && json_text_add(origin, "ledger", source->identity) &&
           json_text_add(origin, "store", source->store) && json_integer_add(origin, "entry", entry->number) &&
           hex_add(origin, "hash", entry->hash, CHAIN_HASH_SIZE);
}

/* Adding "origin" to canonical JSON and taking it away again must give the bytes that were hashed, or what was taken could
 * never be held against the other ledger. */
static enum import_verdict body_make(const struct import_source *source, const struct entry *entry,
                                     struct import_record *record, struct import_fault *fault)
{
    enum import_verdict verdict = IMPORT_MEMORY;
    bool passed_on = cJSON_GetObjectItemCaseSensitive(entry->body_parsed, "origin") != NULL;
    cJSON *body = cJSON_Duplicate(entry->body_parsed, 1);
    char *same = json_canonical(body);
    if (same == NULL || entry->body == NULL)
        goto out;
    if (strcmp(same, entry->body) != 0) {
        verdict = import_bad(fault, CFOIL_E_DATA_SCHEMA, "the body of the entry is not in canonical form (RFC 8785)");
        goto out;
    }
    if (passed_on && !import_record_id_read(body, record->id)) {
        verdict = import_bad(fault, CFOIL_E_DATA_SCHEMA, "the entry names an origin without a record");
        goto out;
    }
    if (!passed_on)
        record_id_make(source->identity, entry, record->id);
    if (passed_on || origin_add(body, source, entry, record->id))
        record->body = json_canonical(body);
    verdict = record->body != NULL ? IMPORT_TAKE : IMPORT_MEMORY;
out:
    cJSON_free(same);
    cJSON_Delete(body);
    return verdict;
}

/* Recorded by the ledger that imports, here or on the way through another one. */
static bool own_is(const struct import_source *source, const struct entry *entry, const char *own,
                   struct import_record *record)
{
    const cJSON *origin = cJSON_GetObjectItemCaseSensitive(entry->body_parsed, "origin");
    if (cJSON_IsObject(origin)) {
        record->own_number = number_in(origin, "entry");
        return strcmp(text_in(origin, "ledger"), own) == 0 &&
               hex_read(origin, "hash", record->own_hash, sizeof record->own_hash);
    }
    record->own_number = entry->number;
    memcpy(record->own_hash, entry->hash, sizeof record->own_hash);
    return strcmp(source->identity, own) == 0;
}

static bool refuses(int32_t disposition)
{
    return disposition == CFOIL_DISPOSITION_NOT_TAKEN || disposition == CFOIL_DISPOSITION_SET_ASIDE;
}

static enum import_verdict record_fill(const struct import_source *source, const struct entry *entry, const char *own,
                                       struct import_record *record, struct import_fault *fault)
{
    if (own_is(source, entry, own, record))
        return IMPORT_OWN;
    record->kind = kind_taken(entry->kind);
    if (record->kind == NULL || entry->body_parsed == NULL)
        return IMPORT_LEAVE;
    bool is_case = strcmp(record->kind, LEDGER_KIND_CASE) == 0;
    if (is_case != (entry->case_id != NULL) || (is_case && !text_acceptable(entry->case_id, 1, 64)))
        return import_bad(fault, CFOIL_E_DATA_SCHEMA, "the entry's case is not what its kind asks for");
    record->time_utc_ms = entry->time_utc_ms;
    record->disposition = entry->disposition;
    text_copy(record->case_id, sizeof record->case_id, entry->case_id);
    if (refuses(entry->disposition) && strlen(text_in(entry->body_parsed, "currency")) == 3) {
        text_copy(record->currency, sizeof record->currency, text_in(entry->body_parsed, "currency"));
        text_copy(record->serial, sizeof record->serial, text_in(entry->body_parsed, "serial"));
    }
    return body_make(source, entry, record, fault);
}

enum import_verdict import_entry_read(const struct import_line *line, struct import_source *source, const char *own,
                                      struct import_record *record, struct import_fault *fault)
{
    enum import_verdict verdict;
    struct entry entry = {.body = NULL};
    cJSON *object = import_line_parse(line, &verdict, fault);
    if (object == NULL)
        return verdict;
    verdict = entry_parse(line, object, &entry, fault);
    if (verdict == IMPORT_TAKE)
        verdict = chain_follow(source, &entry, fault);
    if (verdict == IMPORT_TAKE && record != NULL)
        verdict = record_fill(source, &entry, own, record, fault);
    cJSON_free(entry.body);
    cJSON_Delete(object);
    return verdict;
}
