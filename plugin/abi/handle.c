/*
 * Handles: what a host's opaque pointer leads to, who is inside a call on it, and how it ends. See handle.h.
 */
#include "abi/handle.h"

#include "model/text.h"

#include <string.h>

/* "CFOI" in ASCII; nothing else the library allocates begins with it. */
#define HANDLE_MARK 0x43464F49u

int32_t handle_enter_any(const void *pointer, struct handle **handle)
{
    if (pointer == NULL)
        return CFOIL_E_ARGUMENT_NULL;
    struct handle *found = (struct handle *)(uintptr_t)pointer;
    if (found->mark != HANDLE_MARK)
        return CFOIL_E_ARGUMENT_HANDLE;
    os_mutex_lock(found->context->lock);
    int32_t result = found->closed ? CFOIL_E_STATE_STALE : CFOIL_OK;
    if (result == CFOIL_OK) {
        found->users++;
        *handle = found;
    }
    os_mutex_unlock(found->context->lock);
    return result;
}

int32_t handle_enter(const void *pointer, int32_t kind, struct handle **handle)
{
    int32_t result = handle_enter_any(pointer, handle);
    if (result == CFOIL_OK && (*handle)->kind != kind)
        return handle_leave(*handle, CFOIL_E_ARGUMENT_HANDLE, NULL);
    return result;
}

static void error_keep(struct handle *handle, int32_t result, const cfoil_error_info *error)
{
    if (error != NULL && error->result == result) {
        handle->error = *error;
        return;
    }
    memset(&handle->error, 0, sizeof handle->error);
    handle->error.result = result;
    text_copy(handle->error.area, sizeof handle->error.area, "abi");
    text_copy(handle->error.text, sizeof handle->error.text, cfoil_error_text(result));
}

int32_t handle_leave(struct handle *handle, int32_t result, const cfoil_error_info *error)
{
    cfoil_context *context = handle->context;
    os_mutex_lock(context->lock);
    if (result != CFOIL_OK && result != CFOIL_E_TIME_OUT && result != CFOIL_E_ARGUMENT_BUFFER)
        error_keep(handle, result, error);
    handle->users--;
    if (handle->closed && handle->users == 0)
        os_condition_wake_all(context->calls_left);
    os_mutex_unlock(context->lock);
    return result;
}

/* A closed handle that has waited long enough, or new memory. Called with the lock held. */
static struct handle *handle_memory(cfoil_context *context)
{
    if (context->waiting_count <= HANDLE_QUARANTINE)
        return memory_allocate(&context->memory, sizeof(struct handle));
    struct handle *oldest = context->waiting;
    context->waiting = oldest->next;
    context->waiting_count--;
    memset(oldest, 0, sizeof *oldest);
    return oldest;
}

struct handle *handle_create(cfoil_context *context, int32_t kind, void *body)
{
    os_mutex_lock(context->lock);
    struct handle *handle = handle_memory(context);
    if (handle != NULL) {
        handle->mark = HANDLE_MARK;
        handle->kind = kind;
        handle->context = context;
        handle->body = body;
        handle->next = context->open;
        context->open = handle;
    }
    os_mutex_unlock(context->lock);
    return handle;
}

void handle_context_init(cfoil_context *context)
{
    context->handle.mark = HANDLE_MARK;
    context->handle.kind = HANDLE_CONTEXT;
    context->handle.context = context;
}

int handle_close_begin(struct handle *handle)
{
    os_mutex_lock(handle->context->lock);
    int mine = !handle->closed;
    handle->closed = 1;
    os_mutex_unlock(handle->context->lock);
    return mine;
}

static void open_remove(cfoil_context *context, const struct handle *handle)
{
    for (struct handle **link = &context->open; *link != NULL; link = &(*link)->next) {
        if (*link == handle) {
            *link = handle->next;
            return;
        }
    }
}

static void waiting_append(cfoil_context *context, struct handle *handle)
{
    handle->next = NULL;
    if (context->waiting == NULL)
        context->waiting = handle;
    else
        context->waiting_last->next = handle;
    context->waiting_last = handle;
    context->waiting_count++;
}

void *handle_close_end(struct handle *handle)
{
    cfoil_context *context = handle->context;
    os_mutex_lock(context->lock);
    while (handle->users > 0)
        os_condition_wait(context->calls_left, context->lock, UINT64_MAX);
    void *body = handle->body;
    handle->body = NULL;
    open_remove(context, handle);
    waiting_append(context, handle);
    os_mutex_unlock(context->lock);
    return body;
}

void handles_free(cfoil_context *context)
{
    while (context->waiting != NULL) {
        struct handle *next = context->waiting->next;
        memory_release(&context->memory, context->waiting);
        context->waiting = next;
    }
}
