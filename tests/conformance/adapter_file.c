/*
 * How does the suite come to the table of an adapter that stands in a shared library? See adapter_lane.h.
 */
#include "adapter_lane.h"

#include "os/os.h"

/* What is wrong with the file is told in the words that a till would be told. */
static int32_t file_try(const char *path, cfoil_error_info *error)
{
    cfoil_context *context;
    int32_t result = cfoil_context_open(NULL, &context);
    if (result != CFOIL_OK) {
        snprintf(error->text, sizeof error->text, "%s", cfoil_error_text(result));
        return result;
    }
    result = cfoil_adapter_load(context, path);
    if (result != CFOIL_OK)
        (void)cfoil_error_read(context, error);
    cfoil_context_close(context);
    return result;
}

bool adapter_file_open(const char *path, struct os_library **library, const cfoil_adapter **adapter)
{
    cfoil_error_info error = CFOIL_ERROR_INFO_INIT;
    struct os_library_fault fault = {.line = "it was there a moment ago"};
    *library = NULL;
    int32_t result = file_try(path, &error);
    if (result == CFOIL_OK && os_library_open(&memory_heap, path, library, &fault) == OS_LIBRARY_OPEN) {
        cfoil_adapter_entry entry = (cfoil_adapter_entry)os_library_function(*library, CFOIL_ADAPTER_ENTRY);
        *adapter = entry(CFOIL_ADAPTER_API);
        return true;
    }
    fprintf(stderr, "counterfoil-conform: --adapter-file: %s\n", result != CFOIL_OK ? error.text : fault.line);
    return false;
}
