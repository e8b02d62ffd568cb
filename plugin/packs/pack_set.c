/*
 * Sets of packs: the built-in ones as far as they were wanted, extended by directories, shared by counting.
 */
#include "model/error.h"
#include "packs/builtin.h"
#include "packs/pack_data.h"

#include <stdio.h>
#include <string.h>

#define COMMON_GROUND "common" /* id of the jurisdiction for a shop that named none */

struct pack_set {
    atomic_uint count;
    struct memory memory;
    uint32_t pack_count;
    struct pack *packs[]; /* in the order in which they were added */
};

/* ---- Making and sharing ---- */

static struct pack_set *set_make(const struct memory *memory, size_t capacity)
{
    struct pack_set *set = memory_allocate(memory, sizeof *set + capacity * sizeof(struct pack *));
    if (set == NULL)
        return NULL;
    atomic_init(&set->count, 1);
    set->memory = *memory;
    return set;
}

struct pack_set *pack_set_retain(struct pack_set *set)
{
    atomic_fetch_add_explicit(&set->count, 1, memory_order_relaxed);
    return set;
}

void pack_set_release(struct pack_set *set)
{
    if (set == NULL || atomic_fetch_sub_explicit(&set->count, 1, memory_order_acq_rel) > 1)
        return;
    struct memory memory = set->memory;
    for (uint32_t i = 0; i < set->pack_count; i++)
        pack_release(set->packs[i]);
    memory_release(&memory, set);
}

/* Takes the pack over. One with a known id takes the place of the old one. */
static void set_put(struct pack_set *set, struct pack *pack)
{
    for (uint32_t i = 0; i < set->pack_count; i++) {
        if (set->packs[i]->kind == pack->kind && strcmp(set->packs[i]->id, pack->id) == 0) {
            pack_release(set->packs[i]);
            set->packs[i] = pack;
            return;
        }
    }
    set->packs[set->pack_count++] = pack;
}

static void set_put_all(struct pack_set *set, const struct pack_set *from)
{
    for (uint32_t i = 0; i < from->pack_count; i++) {
        pack_retain(from->packs[i]);
        set_put(set, from->packs[i]);
    }
}

int32_t pack_set_create_empty(const struct memory *memory, struct pack_set **set, cfoil_error_info *error)
{
    *set = set_make(memory, 0);
    return *set != NULL ? CFOIL_OK : error_memory_set(error, "packs");
}

int32_t pack_set_create(const struct memory *memory, struct pack_set **set, cfoil_error_info *error)
{
    struct pack_set *empty;
    int32_t result = pack_set_create_empty(memory, &empty, error);
    *set = NULL;
    if (result == CFOIL_OK)
        result = pack_set_provide(empty, NULL, set, error);
    pack_set_release(empty);
    return result;
}

/* ---- Built-in packs when they are wanted ---- */

static struct pack *set_find(const struct pack_set *set, enum pack_kind kind, const char *id)
{
    for (uint32_t i = 0; i < set->pack_count; i++) {
        if (set->packs[i]->kind == kind && strcmp(set->packs[i]->id, id) == 0)
            return set->packs[i];
    }
    return NULL;
}

static bool builtin_wanted(const struct builtin_pack *builtin, const struct pack_wanted *wanted)
{
    if (wanted == NULL)
        return true;
    switch (pack_kind_of(builtin->schema)) {
    case PACK_CURRENCY:
        return wanted->currency != NULL && strcmp(builtin->id, wanted->currency) == 0;
    case PACK_EVIDENCE:
        return wanted->currency != NULL;
    case PACK_JURISDICTION:
        return wanted->jurisdiction != NULL &&
               strcmp(builtin->id, wanted->jurisdiction[0] != '\0' ? wanted->jurisdiction : COMMON_GROUND) == 0;
    case PACK_EXCHANGE:
        return wanted->exchange != NULL && strcmp(builtin->id, wanted->exchange) == 0;
    case PACK_MESSAGES:
        return wanted->language != NULL &&
               (pack_language_serves(builtin->language, wanted->language) || strcmp(builtin->language, "en") == 0);
    }
    return false;
}

static bool builtin_lacks(const struct pack_set *set, const struct builtin_pack *builtin,
                          const struct pack_wanted *wanted)
{
    return builtin_wanted(builtin, wanted) && set_find(set, pack_kind_of(builtin->schema), builtin->id) == NULL;
}

/* In their own order, which is that of their names: what is listed must not depend on what was wanted first. */
static int32_t builtins_put(struct pack_set *set, const struct pack_set *from, const struct pack_wanted *wanted,
                            cfoil_error_info *error)
{
    for (size_t i = 0; i < builtin_pack_count; i++) {
        const struct builtin_pack *builtin = &builtin_packs[i];
        struct pack *pack = set_find(from, pack_kind_of(builtin->schema), builtin->id);
        int32_t result = CFOIL_OK;
        if (pack != NULL)
            pack_retain(pack);
        else if (builtin_wanted(builtin, wanted))
            result = pack_parse(&set->memory, builtin->name, builtin->text, builtin->length, &pack, error);
        if (result != CFOIL_OK)
            return result;
        if (pack != NULL)
            set_put(set, pack);
    }
    return CFOIL_OK;
}

int32_t pack_set_provide(struct pack_set *from, const struct pack_wanted *wanted, struct pack_set **set,
                         cfoil_error_info *error)
{
    *set = NULL;
    uint32_t lacking = 0;
    for (size_t i = 0; i < builtin_pack_count; i++)
        lacking += builtin_lacks(from, &builtin_packs[i], wanted);
    if (lacking == 0) {
        *set = pack_set_retain(from);
        return CFOIL_OK;
    }
    struct pack_set *made = set_make(&from->memory, (size_t)from->pack_count + lacking);
    if (made == NULL)
        return error_memory_set(error, "packs");
    int32_t result = builtins_put(made, from, wanted, error);
    if (result != CFOIL_OK) {
        pack_set_release(made);
        return result;
    }
    set_put_all(made, from);
    *set = made;
    return CFOIL_OK;
}

/* ---- Files ---- */

static int32_t file_parse(const struct memory *memory, const char *path, struct pack **pack, cfoil_error_info *error)
{
    char *text;
    size_t length;
    int32_t result = pack_file_read(memory, path, &text, &length, error);
    if (result != CFOIL_OK)
        return result;
    result = pack_parse(memory, path, text, length, pack, error);
    memory_release(memory, text);
    return result;
}

static int32_t files_add(struct pack_set *set, const struct pack_directory *directory, cfoil_error_info *error)
{
    for (uint32_t i = 0; i < directory->count; i++) {
        struct pack *pack;
        int32_t result = file_parse(&set->memory, directory->paths[i], &pack, error);
        if (result != CFOIL_OK)
            return result;
        set_put(set, pack);
    }
    return CFOIL_OK;
}

int32_t pack_set_extend(const struct pack_set *from, const char *directory, struct pack_set **set,
                        cfoil_error_info *error)
{
    *set = NULL;
    struct pack_directory files;
    int32_t result = pack_directory_read(&from->memory, directory, &files, error);
    if (result != CFOIL_OK)
        return result;
    struct pack_set *made = set_make(&from->memory, (size_t)from->pack_count + files.count);
    if (made == NULL) {
        result = error_memory_set(error, "packs");
    } else {
        set_put_all(made, from);
        result = files_add(made, &files, error);
    }
    pack_directory_release(&from->memory, &files);
    if (result != CFOIL_OK) {
        pack_set_release(made);
        return result;
    }
    *set = made;
    return CFOIL_OK;
}

/* ---- Checking one file ---- */

static void summary_write(const struct pack *pack, char *summary, size_t capacity)
{
    const struct pack_currency *currency = &pack->as.currency;
    if (pack->kind == PACK_CURRENCY)
        (void)snprintf(summary, capacity,
                       "%s pack: %u denomination rows, %u series, %u checks, every fact with a source", pack->id,
                       currency->note_count, currency->series_count, currency->check_count);
    else if (pack->kind == PACK_JURISDICTION)
        (void)snprintf(summary, capacity, "%s jurisdiction: %s; as of %s, %s; local law decides", pack->id,
                       pack->as.jurisdiction.title, pack->as.jurisdiction.date,
                       confidence_name(pack->as.jurisdiction.confidence));
    else if (pack->kind == PACK_MESSAGES)
        (void)snprintf(summary, capacity, "%s messages: %u messages, %u texts of packs, language %s, %s%s", pack->id,
                       pack->as.messages.message_count, pack->as.messages.translation_count, pack->as.messages.language,
                       pack->as.messages.native_review[0] != '\0' ? "reviewed by a native speaker on "
                                                                  : "not reviewed by a native speaker",
                       pack->as.messages.native_review);
    else if (pack->kind == PACK_EXCHANGE)
        (void)snprintf(summary, capacity,
                       "%s rules for damaged notes: %u conditions, %u limits of fitness, every rule with a source",
                       pack->id, pack->as.exchange.condition_count, pack->as.exchange.fitness_count);
    else
        (void)snprintf(summary, capacity, "%s: %u published looks, %u ranks of features, every figure with a source",
                       pack->id, pack->as.evidence.look_count, pack->as.evidence.rank_count);
}

int32_t pack_file_check(const struct memory *memory, const char *path, char *summary, size_t capacity,
                        cfoil_error_info *error)
{
    struct pack *pack;
    int32_t result = file_parse(memory, path, &pack, error);
    if (result != CFOIL_OK)
        return result;
    summary_write(pack, summary, capacity);
    pack_release(pack);
    return CFOIL_OK;
}

/* ---- Looking up ---- */

const struct pack_currency *pack_currency_find(const struct pack_set *set, const char *currency)
{
    const struct pack *pack = set_find(set, PACK_CURRENCY, currency);
    return pack != NULL ? &pack->as.currency : NULL;
}

const struct pack_jurisdiction *pack_jurisdiction_find(const struct pack_set *set, const char *id)
{
    bool none = id == NULL || id[0] == '\0';
    const struct pack *pack = set_find(set, PACK_JURISDICTION, none ? COMMON_GROUND : id);
    return pack != NULL ? &pack->as.jurisdiction : NULL;
}

uint32_t pack_set_count(const struct pack_set *set)
{
    return set->pack_count;
}

const struct pack *pack_set_at(const struct pack_set *set, uint32_t index)
{
    return set->packs[index];
}
