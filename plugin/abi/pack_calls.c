/*
 * The exported functions about packs, serial numbers and the catalogue.
 */
#include "abi/context.h"
#include "abi/structs.h"
#include "model/error.h"
#include "model/json.h"
#include "model/names.h"
#include "model/text.h"
#include "packs/pack.h"
#include "packs/pack_evidence.h"

#include <stddef.h>
#include <string.h>

#define PATH_SIZE_MAX 4096

int32_t cfoil_pack_directory_add(cfoil_context *context, const char *directory)
{
    struct handle *entered;
    int32_t result = handle_enter(context, HANDLE_CONTEXT, &entered);
    if (result != CFOIL_OK)
        return result;
    if (!text_acceptable(directory, 1, PATH_SIZE_MAX))
        return handle_leave(entered, directory == NULL ? CFOIL_E_ARGUMENT_NULL : CFOIL_E_ARGUMENT_TEXT, NULL);
    cfoil_error_info error = CFOIL_ERROR_INFO_INIT;
    /* When another thread replaced the packs meanwhile, its packs must not be lost: extend those. */
    for (bool replaced = false; result == CFOIL_OK && !replaced;) {
        struct pack_set *before = context_packs_retain(context);
        struct pack_set *packs = NULL;
        result = pack_set_extend(before, directory, &packs, &error);
        replaced = result == CFOIL_OK && context_packs_replace(context, before, packs);
        pack_set_release(packs);
        pack_set_release(before);
    }
    return handle_leave(entered, result, &error);
}

int32_t cfoil_pack_check(cfoil_context *context, const char *path, char *buffer, size_t capacity, size_t *needed)
{
    struct handle *entered;
    int32_t result = handle_enter(context, HANDLE_CONTEXT, &entered);
    if (result != CFOIL_OK)
        return result;
    if (!text_acceptable(path, 1, PATH_SIZE_MAX))
        return handle_leave(entered, path == NULL ? CFOIL_E_ARGUMENT_NULL : CFOIL_E_ARGUMENT_TEXT, NULL);
    cfoil_error_info error = CFOIL_ERROR_INFO_INIT;
    char summary[512] = "";
    result = pack_file_check(&context->memory, path, summary, sizeof summary, &error);
    const char *line = result == CFOIL_OK ? summary : error.text;
    int32_t exported = text_export(line, strlen(line), buffer, capacity, needed);
    /* The verdict on the pack comes first; a small buffer matters only to a good pack's line. */
    return handle_leave(entered, result != CFOIL_OK ? result : exported, &error);
}

static const char *const origin_words[] = {[ADAPTER_BUILT_IN] = "built_in",
                                           [ADAPTER_REGISTERED] = "registered",
                                           [ADAPTER_DESCRIBED] = "described",
                                           [ADAPTER_FILE] = "file"};

static bool adapters_describe(cfoil_context *context, cJSON *catalogue)
{
    cJSON *list = json_array_add(catalogue, "adapters");
    bool good = list != NULL;
    os_mutex_lock(context->lock);
    for (uint32_t i = 0; good && i < context->adapter_count; i++) {
        cJSON *item = json_object_add(list, NULL);
        const cfoil_adapter *table = context->adapters[i].table;
        good = json_text_add(item, "id", table->id) && json_text_add(item, "name", table->name) &&
               json_text_add(item, "maturity", name_maturity(table->maturity)) &&
               json_text_add(item, "origin", origin_words[context->adapters[i].origin]);
    }
    os_mutex_unlock(context->lock);
    return good;
}

int32_t cfoil_catalogue_json(cfoil_context *context, char *buffer, size_t capacity, size_t *needed)
{
    struct handle *entered;
    int32_t result = handle_enter(context, HANDLE_CONTEXT, &entered);
    if (result != CFOIL_OK)
        return result;
    cfoil_error_info error = CFOIL_ERROR_INFO_INIT;
    struct pack_set *packs;
    result = context_packs_provide(context, NULL, &packs, &error);
    if (result != CFOIL_OK)
        return handle_leave(entered, result, &error);
    cJSON *catalogue = cJSON_CreateObject();
    bool good = json_text_add(catalogue, "schema", "counterfoil.catalogue/1") &&
                json_text_add(catalogue, "version", cfoil_version()) && pack_set_describe(packs, catalogue) &&
                adapters_describe(context, catalogue);
    result = good ? json_export(catalogue, buffer, capacity, needed) : CFOIL_E_MEMORY;
    cJSON_Delete(catalogue);
    pack_set_release(packs);
    return handle_leave(entered, result, NULL);
}

/* Packs with the currency in them; on failure there is nothing to give back. */
static int32_t currency_provide(cfoil_context *context, const char *code, struct pack_set **packs,
                                const struct pack_currency **currency, cfoil_error_info *error)
{
    int32_t result = context_packs_provide(context, &(struct pack_wanted){.currency = code}, packs, error);
    if (result != CFOIL_OK)
        return result;
    *currency = pack_currency_find(*packs, code);
    if (*currency != NULL)
        return CFOIL_OK;
    pack_set_release(*packs);
    return error_set(error, CFOIL_E_MISSING_PACK, 0, "packs", "No pack is loaded for the currency %s.", code);
}

int32_t cfoil_matrix_json(cfoil_context *context, const char *currency, char *buffer, size_t capacity, size_t *needed)
{
    struct handle *entered;
    int32_t result = handle_enter(context, HANDLE_CONTEXT, &entered);
    if (result != CFOIL_OK)
        return result;
    if (!text_acceptable(currency, 3, 3))
        return handle_leave(entered, currency == NULL ? CFOIL_E_ARGUMENT_NULL : CFOIL_E_ARGUMENT_TEXT, NULL);
    cfoil_error_info error = CFOIL_ERROR_INFO_INIT;
    struct pack_set *packs;
    const struct pack_currency *pack;
    result = currency_provide(context, currency, &packs, &pack, &error);
    if (result != CFOIL_OK)
        return handle_leave(entered, result, &error);
    cJSON *matrix = pack_matrix(pack_evidence_find(packs), pack);
    result = matrix != NULL ? json_export(matrix, buffer, capacity, needed) : CFOIL_E_MEMORY;
    cJSON_Delete(matrix);
    pack_set_release(packs);
    return handle_leave(entered, result, NULL);
}

static int32_t serial_arguments_check(const char *currency, const char *serial, const cfoil_serial *result)
{
    if (currency == NULL || serial == NULL)
        return CFOIL_E_ARGUMENT_NULL;
    if (!text_acceptable(currency, 3, 3) || !text_acceptable(serial, 1, 64))
        return CFOIL_E_ARGUMENT_TEXT;
    return struct_check(result, offsetof(cfoil_serial, seen_open));
}

int32_t cfoil_serial_check(cfoil_context *context, const char *currency, const char *serial, cfoil_serial *result)
{
    struct handle *entered;
    int32_t code = handle_enter(context, HANDLE_CONTEXT, &entered);
    if (code != CFOIL_OK)
        return code;
    code = serial_arguments_check(currency, serial, result);
    if (code != CFOIL_OK)
        return handle_leave(entered, code, NULL);
    cfoil_error_info error = CFOIL_ERROR_INFO_INIT;
    struct pack_set *packs;
    const struct pack_currency *pack;
    code = currency_provide(context, currency, &packs, &pack, &error);
    if (code != CFOIL_OK)
        return handle_leave(entered, code, &error);
    cfoil_serial filled = CFOIL_SERIAL_INIT;
    serial_check(pack, serial, &filled);
    struct_write(result, &filled, sizeof filled);
    pack_set_release(packs);
    return handle_leave(entered, CFOIL_OK, NULL);
}
