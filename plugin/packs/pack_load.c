/*
 * From the text of one file to a pack: scan, parse, and read what its schema asks for. All or nothing.
 */
#include "packs/pack_data.h"
#include "packs/reader.h"

#include <string.h>

static const struct {
    const char *schema;
    const char *name;
} kinds[] = {
    [PACK_CURRENCY] = {"counterfoil.currency/1", "currency"},
    [PACK_JURISDICTION] = {"counterfoil.jurisdiction/1", "jurisdiction"},
    [PACK_MESSAGES] = {"counterfoil.messages/1", "messages"},
    [PACK_EVIDENCE] = {"counterfoil.evidence/1", "evidence"},
    [PACK_EXCHANGE] = {"counterfoil.exchange/1", "exchange"},
};

const char *pack_kind_name(enum pack_kind kind)
{
    return kinds[kind].name;
}

enum pack_kind pack_kind_of(const char *schema)
{
    for (int kind = PACK_CURRENCY; kind <= PACK_EXCHANGE; kind++) {
        if (strcmp(schema, kinds[kind].schema) == 0)
            return (enum pack_kind)kind;
    }
    return 0;
}

void pack_retain(struct pack *pack)
{
    atomic_fetch_add_explicit(&pack->count, 1, memory_order_relaxed);
}

void pack_release(struct pack *pack)
{
    if (pack == NULL || atomic_fetch_sub_explicit(&pack->count, 1, memory_order_acq_rel) > 1)
        return;
    struct memory memory = pack->memory;
    cJSON_Delete(pack->tree);
    arena_release(&pack->arena);
    memory_release(&memory, pack);
}

static int32_t schema_read(struct reader *reader, struct pack *pack)
{
    if (!cJSON_IsObject(pack->tree))
        return reader_fault(reader, "a pack must be an object { }");
    const cJSON *schema = member(pack->tree, "schema");
    if (schema == NULL)
        return reader_fault(reader, "the key 'schema' is missing");
    if (cJSON_IsString(schema))
        pack->kind = pack_kind_of(schema->valuestring);
    if (pack->kind != 0)
        return CFOIL_OK;
    return reader_fault_at(reader, "schema",
                           "must be one that this version knows: counterfoil.currency/1, counterfoil.jurisdiction/1, "
                           "counterfoil.messages/1, counterfoil.evidence/1 or counterfoil.exchange/1");
}

static int32_t body_read(struct reader *reader, struct pack *pack)
{
    int32_t result;
    if (pack->kind == PACK_CURRENCY)
        result = pack_currency_read(reader, pack->tree, &pack->as.currency);
    else if (pack->kind == PACK_JURISDICTION)
        result = pack_jurisdiction_read(reader, pack->tree, &pack->as.jurisdiction);
    else if (pack->kind == PACK_MESSAGES)
        result = pack_messages_read(reader, pack->tree, &pack->as.messages);
    else if (pack->kind == PACK_EVIDENCE)
        result = pack_evidence_read(reader, pack->tree, &pack->as.evidence);
    else
        result = pack_exchange_read(reader, pack->tree, &pack->as.exchange);
    if (result != CFOIL_OK)
        return result;
    pack->id = member_text(pack->tree, "id");
    pack->version = member_text(pack->tree, "version");
    return reader_date(reader, pack->tree, "reviewed", &pack->reviewed);
}

static int32_t syntax_fault(cfoil_error_info *error, const char *file, const struct json_fault *fault)
{
    error_set(error, fault->result, 0, "packs", "%.150s: line %d: %s", file, (int)fault->line, fault->what);
    if (error != NULL)
        error->line = fault->line;
    return fault->result;
}

int32_t pack_text_scan(const char *file, const char *text, size_t length, cfoil_error_info *error)
{
    if (length > PACK_SIZE_MAX)
        return error_set(error, CFOIL_E_DATA_SIZE, 0, "packs", "%.150s: the file is larger than 1 MiB", file);
    if (length == 0)
        return syntax_fault(error, file, &(struct json_fault){CFOIL_E_DATA_SYNTAX, 1, "the file is empty"});
    struct json_fault fault;
    return json_scan(text, length, &fault) ? CFOIL_OK : syntax_fault(error, file, &fault);
}

int32_t pack_parse(const struct memory *memory, const char *file, const char *text, size_t length, struct pack **pack,
                   cfoil_error_info *error)
{
    *pack = NULL;
    int32_t result = pack_text_scan(file, text, length, error);
    if (result != CFOIL_OK)
        return result;
    struct pack *made = memory_allocate(memory, sizeof *made);
    if (made == NULL)
        return error_memory_set(error, "packs");
    atomic_init(&made->count, 1);
    made->memory = *memory;
    made->arena.memory = &made->memory;
    made->tree = cJSON_ParseWithLength(text, length);
    struct reader reader = {.file = file, .text = text, .length = length, .arena = &made->arena, .error = error};
    /* What json_scan() has passed, cJSON refuses for lack of memory only. */
    result = made->tree == NULL ? reader_memory_fault(&reader) : schema_read(&reader, made);
    if (result == CFOIL_OK)
        result = body_read(&reader, made);
    if (result != CFOIL_OK) {
        pack_release(made);
        return result;
    }
    *pack = made;
    return CFOIL_OK;
}
