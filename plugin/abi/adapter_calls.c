/*
 * The exported functions that make adapters known: tables of the host's own, and devices that a description tells about.
 */
#include "abi/context.h"
#include "described/described.h"
#include "lane/registry.h"
#include "model/error.h"
#include "model/text.h"
#include "packs/description.h"

#define PATH_SIZE_MAX 4096

/* One adapter of the context's own. */
struct described_adapter {
    struct described_adapter *next;
    struct description *description;
    cfoil_adapter adapter;
};

int32_t cfoil_adapter_register(cfoil_context *context, const struct cfoil_adapter *adapter)
{
    struct handle *entered;
    int32_t result = handle_enter(context, HANDLE_CONTEXT, &entered);
    if (result != CFOIL_OK)
        return result;
    cfoil_error_info error = CFOIL_ERROR_INFO_INIT;
    result = adapter == NULL ? CFOIL_E_ARGUMENT_NULL : adapter_check(adapter, &error);
    if (result == CFOIL_OK)
        result = context_adapter_add(context, adapter, ADAPTER_REGISTERED, &error);
    return handle_leave(entered, result, &error);
}

static void described_release(const struct memory *memory, struct described_adapter *described)
{
    memory_release(memory, described->description);
    memory_release(memory, described);
}

void context_described_free(cfoil_context *context)
{
    while (context->described != NULL) {
        struct described_adapter *next = context->described->next;
        described_release(&context->memory, context->described);
        context->described = next;
    }
}

static int32_t describe(cfoil_context *context, const char *path, cfoil_error_info *error)
{
    struct described_adapter *made = memory_allocate(&context->memory, sizeof *made);
    if (made == NULL)
        return error_memory_set(error, "packs");
    int32_t result = description_load(&context->memory, path, &made->description, error);
    if (result == CFOIL_OK) {
        described_adapter_make(made->description, &made->adapter);
        result = context_adapter_add(context, &made->adapter, ADAPTER_DESCRIBED, error);
    }
    if (result != CFOIL_OK) {
        described_release(&context->memory, made);
        return result;
    }
    os_mutex_lock(context->lock);
    made->next = context->described;
    context->described = made;
    os_mutex_unlock(context->lock);
    return CFOIL_OK;
}

int32_t cfoil_adapter_describe(cfoil_context *context, const char *path)
{
    struct handle *entered;
    int32_t result = handle_enter(context, HANDLE_CONTEXT, &entered);
    if (result != CFOIL_OK)
        return result;
    if (!text_acceptable(path, 1, PATH_SIZE_MAX))
        return handle_leave(entered, path == NULL ? CFOIL_E_ARGUMENT_NULL : CFOIL_E_ARGUMENT_TEXT, NULL);
    cfoil_error_info error = CFOIL_ERROR_INFO_INIT;
    result = describe(context, path, &error);
    return handle_leave(entered, result, &error);
}
