/*
 * The exported function that loads an adapter from a shared library of its own: is the file one, is its table fit?
 */
#include "abi/context.h"
#include "lane/registry.h"
#include "model/error.h"
#include "model/text.h"

#include <stddef.h>
#include <string.h>

#define PATH_SIZE_MAX 4096
#define AREA          "registry"

/* One file of the context's own. */
struct loaded_adapter {
    struct loaded_adapter *next;
    struct os_library *library;
};

static void loaded_release(const struct memory *memory, struct loaded_adapter *loaded)
{
    os_library_close(memory, loaded->library);
    memory_release(memory, loaded);
}

void context_loaded_free(cfoil_context *context)
{
    while (context->loaded != NULL) {
        struct loaded_adapter *next = context->loaded->next;
        loaded_release(&context->memory, context->loaded);
        context->loaded = next;
    }
}

/* The last part of the path, for one line of text: the folder may be long. */
static const char *file_name(const char *path)
{
    const char *slash = strrchr(path, '/');
    return slash != NULL && slash[1] != '\0' ? slash + 1 : path;
}

static int32_t library_open(const struct memory *memory, const char *path, struct os_library **library,
                            cfoil_error_info *error)
{
    struct os_library_fault fault;
    switch (os_library_open(memory, path, library, &fault)) {
    case OS_LIBRARY_OPEN:
        return CFOIL_OK;
    case OS_LIBRARY_NO_FILE:
        return error_set(error, CFOIL_E_DATA_FILE, fault.os_code, AREA, "Adapter file %.80s: %s.", file_name(path),
                         fault.line);
    case OS_LIBRARY_REFUSED:
        return error_set(error, CFOIL_E_DATA_LIBRARY, fault.os_code, AREA, "Adapter file %.80s: the loader says: %s",
                         file_name(path), fault.line);
    default:
        return error_memory_set(error, AREA);
    }
}

static int32_t version_fault(const char *path, cfoil_error_info *error)
{
    return error_set(error, CFOIL_E_DATA_VERSION, 0, AREA,
                     "Adapter file %.80s: it was not built for version %d of adapter.h; have it built anew.",
                     file_name(path), CFOIL_ADAPTER_API);
}

/* Nothing but the two first members may be read before they are known to be right. */
static int32_t table_check(const cfoil_adapter *adapter, const char *path, cfoil_error_info *error)
{
    bool versioned = adapter->struct_size >= offsetof(cfoil_adapter, id);
    if (versioned && adapter->api_version != CFOIL_ADAPTER_API)
        return version_fault(path, error);
    cfoil_error_info reason = CFOIL_ERROR_INFO_INIT;
    int32_t result = adapter_check(adapter, &reason);
    if (result == CFOIL_OK)
        return CFOIL_OK;
    return error_set(error, result, 0, AREA, "Adapter file %.80s: %s", file_name(path), reason.text);
}

static int32_t table_find(const struct os_library *library, const char *path, const cfoil_adapter **adapter,
                          cfoil_error_info *error)
{
    cfoil_adapter_entry entry = (cfoil_adapter_entry)os_library_function(library, CFOIL_ADAPTER_ENTRY);
    if (entry == NULL)
        return error_set(error, CFOIL_E_DATA_ENTRY, 0, AREA, "Adapter file %.80s: it has no function %s.",
                         file_name(path), CFOIL_ADAPTER_ENTRY);
    *adapter = entry(CFOIL_ADAPTER_API);
    return *adapter == NULL ? version_fault(path, error) : table_check(*adapter, path, error);
}

static int32_t file_load(cfoil_context *context, const char *path, cfoil_error_info *error)
{
    const struct memory *memory = &context->memory;
    struct loaded_adapter *made = memory_allocate(memory, sizeof *made);
    if (made == NULL)
        return error_memory_set(error, AREA);
    const cfoil_adapter *adapter = NULL;
    int32_t result = library_open(memory, path, &made->library, error);
    if (result == CFOIL_OK)
        result = table_find(made->library, path, &adapter, error);
    if (result == CFOIL_OK)
        result = context_adapter_add(context, adapter, ADAPTER_FILE, error);
    if (result != CFOIL_OK) {
        loaded_release(memory, made);
        return result;
    }
    os_mutex_lock(context->lock);
    made->next = context->loaded;
    context->loaded = made;
    os_mutex_unlock(context->lock);
    return CFOIL_OK;
}

int32_t cfoil_adapter_load(cfoil_context *context, const char *path)
{
    struct handle *entered;
    int32_t result = handle_enter(context, HANDLE_CONTEXT, &entered);
    if (result != CFOIL_OK)
        return result;
    if (!text_acceptable(path, 1, PATH_SIZE_MAX))
        return handle_leave(entered, path == NULL ? CFOIL_E_ARGUMENT_NULL : CFOIL_E_ARGUMENT_TEXT, NULL);
    if (!os_path_has_folder(path))
        return handle_leave(entered, CFOIL_E_ARGUMENT_PATH, NULL);
    cfoil_error_info error = CFOIL_ERROR_INFO_INIT;
    result = file_load(context, path, &error);
    return handle_leave(entered, result, &error);
}
