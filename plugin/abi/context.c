/*
 * The context: allocator, log, packs and adapters of one host, and the order in which everything ends.
 */
#include "abi/context.h"

#include "abi/structs.h"
#include "cctalk/cctalk.h"
#include "mdb/mdb.h"
#include "model/error.h"
#include "packs/pack.h"
#include "pulse/pulse.h"

#include <string.h>

static const cfoil_adapter *const builtin_adapters[] = {&cctalk_adapter, &mdb_adapter, &pulse_adapter};

#define TEXT_OF_NUMBER(number) TEXT_OF(number)
#define TEXT_OF(number)        #number

const char *cfoil_version(void)
{
    return TEXT_OF_NUMBER(CFOIL_VERSION_MAJOR) "." TEXT_OF_NUMBER(CFOIL_VERSION_MINOR) "." TEXT_OF_NUMBER(
        CFOIL_VERSION_PATCH);
}

/* ---- Opening ---- */

static int32_t allocator_read(const cfoil_context_options *options, struct memory *memory)
{
    *memory = memory_heap;
    if (options->allocator == NULL)
        return CFOIL_OK;
    cfoil_allocator allocator;
    int32_t result = struct_read(options->allocator, sizeof allocator, sizeof allocator, &allocator);
    if (result != CFOIL_OK)
        return result;
    if (allocator.allocate == NULL || allocator.release == NULL)
        return CFOIL_E_ARGUMENT_NULL;
    memory->user = allocator.user;
    memory->allocate = allocator.allocate;
    memory->release = allocator.release;
    return CFOIL_OK;
}

static void context_free(cfoil_context *context)
{
    struct memory memory = context->memory;
    handles_free(context);
    pack_set_release(context->packs);
    memory_release(&memory, context->adapters);
    context_described_free(context);
    context_loaded_free(context);
    if (context->calls_left != NULL)
        os_condition_destroy(&memory, context->calls_left);
    if (context->lock != NULL)
        os_mutex_destroy(&memory, context->lock);
    if (context->lane_opening != NULL)
        os_mutex_destroy(&memory, context->lane_opening);
    memory_release(&memory, context);
}

static int32_t context_fill(cfoil_context *context)
{
    context->lock = os_mutex_create(&context->memory);
    context->calls_left = os_condition_create(&context->memory);
    context->lane_opening = os_mutex_create(&context->memory);
    if (context->lock == NULL || context->calls_left == NULL || context->lane_opening == NULL)
        return CFOIL_E_MEMORY;
    uint32_t count = sizeof builtin_adapters / sizeof builtin_adapters[0];
    context->adapters = memory_allocate(&context->memory, count * sizeof *context->adapters);
    if (context->adapters == NULL)
        return CFOIL_E_MEMORY;
    for (uint32_t i = 0; i < count; i++)
        context->adapters[i] = (struct known_adapter){builtin_adapters[i], ADAPTER_BUILT_IN};
    context->adapter_count = count;
    return pack_set_create_empty(&context->memory, &context->packs, NULL);
}

int32_t cfoil_context_open(const cfoil_context_options *options, cfoil_context **context)
{
    if (context == NULL)
        return CFOIL_E_ARGUMENT_NULL;
    *context = NULL;
    cfoil_context_options copy = CFOIL_CONTEXT_OPTIONS_INIT;
    int32_t result = options == NULL ? CFOIL_OK : struct_read(options, sizeof copy, sizeof copy, &copy);
    if (result != CFOIL_OK)
        return result;
    if (copy.log_level < 0 || copy.log_level > CFOIL_LOG_DEBUG)
        return CFOIL_E_ARGUMENT_RANGE;
    struct memory memory;
    result = allocator_read(&copy, &memory);
    if (result != CFOIL_OK)
        return result;
    cfoil_context *made = memory_allocate(&memory, sizeof *made);
    if (made == NULL)
        return CFOIL_E_MEMORY;
    made->memory = memory;
    made->log_level = copy.log != NULL ? copy.log_level : 0;
    made->log = copy.log;
    made->log_user = copy.log_user;
    result = context_fill(made);
    if (result != CFOIL_OK) {
        context_free(made);
        return result;
    }
    handle_context_init(made);
    *context = made;
    return CFOIL_OK;
}

/* ---- Ending ---- */

static void handle_close(struct handle *handle)
{
    switch (handle->kind) {
    case HANDLE_LANE:
        cfoil_lane_close((cfoil_lane *)handle);
        break;
    case HANDLE_CASE:
        cfoil_case_close((cfoil_case *)handle);
        break;
    case HANDLE_SESSION:
        cfoil_sign_out((cfoil_session *)handle);
        break;
    default:
        cfoil_ledger_close((cfoil_ledger *)handle);
        break;
    }
}

void cfoil_context_close(cfoil_context *context)
{
    struct handle *entered;
    if (handle_enter(context, HANDLE_CONTEXT, &entered) != CFOIL_OK)
        return;
    (void)cfoil_context_shutdown(context);
    /* Each close takes its handle off the list. Nobody else may open one now, as counterfoil.h demands. */
    while (context->open != NULL)
        handle_close(context->open);
    (void)handle_leave(entered, CFOIL_OK, NULL);
    context->handle.mark = 0;
    context_free(context);
}

int32_t cfoil_context_shutdown(cfoil_context *context)
{
    struct handle *entered;
    int32_t result = handle_enter(context, HANDLE_CONTEXT, &entered);
    if (result != CFOIL_OK)
        return result;
    os_mutex_lock(context->lock);
    context->shutdown = 1;
    for (struct handle *handle = context->open; handle != NULL; handle = handle->next) {
        if (handle->kind == HANDLE_LANE && handle->body != NULL)
            lane_shutdown(handle->body);
    }
    os_mutex_unlock(context->lock);
    return handle_leave(entered, CFOIL_OK, NULL);
}

bool context_shutting_down(cfoil_context *context)
{
    os_mutex_lock(context->lock);
    bool shutdown = context->shutdown != 0;
    os_mutex_unlock(context->lock);
    return shutdown;
}

/* ---- Errors ---- */

int32_t cfoil_error_read(const void *handle, cfoil_error_info *info)
{
    struct handle *entered;
    int32_t result = struct_check(info, sizeof *info);
    if (result != CFOIL_OK)
        return result;
    result = handle_enter_any(handle, &entered);
    if (result != CFOIL_OK)
        return result;
    cfoil_context *context = entered->context;
    os_mutex_lock(context->lock);
    cfoil_error_info error = entered->error;
    os_mutex_unlock(context->lock);
    if (error.result == CFOIL_OK && entered->kind == HANDLE_LANE)
        lane_error_read(entered->body, &error);
    struct_write(info, &error, sizeof error);
    return handle_leave(entered, CFOIL_OK, NULL);
}

/* ---- Adapters ---- */

/* Called with the lock held. */
static const cfoil_adapter *adapter_find(const cfoil_context *context, const char *id)
{
    for (uint32_t i = 0; i < context->adapter_count; i++) {
        if (strcmp(context->adapters[i].table->id, id) == 0)
            return context->adapters[i].table;
    }
    return NULL;
}

/* Called with the lock held. */
static int32_t adapter_add(cfoil_context *context, const cfoil_adapter *adapter, enum adapter_origin origin)
{
    uint32_t count = context->adapter_count;
    struct known_adapter *grown = memory_allocate(&context->memory, (count + 1) * sizeof *grown);
    if (grown == NULL)
        return CFOIL_E_MEMORY;
    memcpy(grown, context->adapters, count * sizeof *grown);
    grown[count] = (struct known_adapter){adapter, origin};
    memory_release(&context->memory, context->adapters);
    context->adapters = grown;
    context->adapter_count = count + 1;
    return CFOIL_OK;
}

const cfoil_adapter *context_adapter_find(cfoil_context *context, const char *id)
{
    os_mutex_lock(context->lock);
    const cfoil_adapter *found = adapter_find(context, id);
    os_mutex_unlock(context->lock);
    return found;
}

int32_t context_adapter_add(cfoil_context *context, const cfoil_adapter *adapter, enum adapter_origin origin,
                            cfoil_error_info *error)
{
    os_mutex_lock(context->lock);
    bool known = adapter_find(context, adapter->id) != NULL;
    int32_t result = known ? CFOIL_E_STATE_EXISTS : adapter_add(context, adapter, origin);
    os_mutex_unlock(context->lock);
    if (known)
        error_set(error, result, 0, "registry", "An adapter with the id '%s' is known already.", adapter->id);
    return result;
}

/* ---- Packs ---- */

struct pack_set *context_packs_retain(cfoil_context *context)
{
    os_mutex_lock(context->lock);
    struct pack_set *packs = pack_set_retain(context->packs);
    os_mutex_unlock(context->lock);
    return packs;
}

bool context_packs_replace(cfoil_context *context, struct pack_set *expected, struct pack_set *packs)
{
    os_mutex_lock(context->lock);
    bool same = context->packs == expected;
    if (same)
        context->packs = pack_set_retain(packs);
    os_mutex_unlock(context->lock);
    if (same)
        pack_set_release(expected); /* the context's own count */
    return same;
}

int32_t context_packs_provide(cfoil_context *context, const struct pack_wanted *wanted, struct pack_set **packs,
                              cfoil_error_info *error)
{
    /* When another thread replaced the packs meanwhile, its packs must not be lost: look at those. */
    for (;;) {
        struct pack_set *before = context_packs_retain(context);
        int32_t result = pack_set_provide(before, wanted, packs, error);
        bool done = result != CFOIL_OK || *packs == before || context_packs_replace(context, before, *packs);
        pack_set_release(before);
        if (done)
            return result;
        pack_set_release(*packs);
    }
}

void context_log(cfoil_context *context, int32_t level, const char *area, const char *key,
                 const cfoil_error_info *error)
{
    if (context->log == NULL || level > context->log_level)
        return;
    cfoil_log_record record = {
        .struct_size = (uint32_t)sizeof record,
        .level = level,
        .result = error->result,
        .os_code = error->os_code,
        .area = area,
        .lane = "",
        .key = key,
        .text = error->text,
    };
    context->log(context->log_user, &record);
}
