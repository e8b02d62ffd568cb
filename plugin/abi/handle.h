/*
 * Handles: what a host's opaque pointer leads to, who is inside a call on it, and how it ends.
 * A closed handle's memory waits in a queue before it is used again, so that a stale pointer gets a clear answer.
 */
#ifndef ABI_HANDLE_H
#define ABI_HANDLE_H

#include "model/memory.h"
#include "os/os.h"

#include <counterfoil/adapter.h>

/* Closes that must come after a handle's own before its memory may serve another handle (docs/abi.md). */
#define HANDLE_QUARANTINE 1024u

enum handle_kind { HANDLE_CONTEXT = 1, HANDLE_LANE = 2, HANDLE_CASE = 3, HANDLE_LEDGER = 4, HANDLE_SESSION = 5 };

struct handle {
    uint32_t mark; /* HANDLE_MARK while the memory is a handle, open or closed */
    int32_t kind;  /* enum handle_kind */
    cfoil_context *context;
    void *body;     /* struct lane, open_case, ledger or session; NULL once closed */
    uint32_t users; /* calls inside */
    int32_t closed; /* no new call may enter */
    struct handle *next;
    cfoil_error_info error; /* the last failure, under the context's lock */
};

/* Whose word an adapter's table, and the maturity in it, is. */
enum adapter_origin { ADAPTER_BUILT_IN, ADAPTER_REGISTERED, ADAPTER_DESCRIBED, ADAPTER_FILE };

struct known_adapter {
    const cfoil_adapter *table;
    enum adapter_origin origin;
};

struct described_adapter;
struct lane;
struct ledger;
struct loaded_adapter;
struct pack_set;

struct cfoil_context {
    struct handle handle; /* must be first */
    struct memory memory;
    cfoil_allocator allocator;
    int32_t log_level;
    cfoil_log_function log;
    void *log_user;
    struct os_mutex *lock;           /* guards everything below and every handle's fields */
    struct os_condition *calls_left; /* a handle lost a user */
    struct os_mutex *lane_opening;   /* one lane is opened at a time: two may want the same name; taken before `lock` */
    int32_t shutdown;
    struct pack_set *packs;
    struct known_adapter *adapters;
    uint32_t adapter_count;
    struct described_adapter *described; /* the context's own: tables made from descriptions */
    struct loaded_adapter *loaded;       /* the context's own: files with a table in them */
    struct handle *open;                 /* list of open handles */
    struct handle *waiting;              /* closed handles, oldest first */
    struct handle *waiting_last;
    uint32_t waiting_count;
};

/* Makes the context itself a handle. */
void handle_context_init(cfoil_context *context);

/* Begins a call: finds the handle, or says what is wrong. Every success is matched by handle_leave(). */
int32_t handle_enter(const void *pointer, int32_t kind, struct handle **handle);

/* As handle_enter() for a handle of any kind. */
int32_t handle_enter_any(const void *pointer, struct handle **handle);

/* Ends a call. Keeps `error` (or the code's own text) as the handle's last failure when `result` is one; a passed
 * waiting time and a small buffer are not failures. Returns `result`. */
int32_t handle_leave(struct handle *handle, int32_t result, const cfoil_error_info *error);

/* Makes an open handle around `body`. NULL = no memory. The calling call must be inside the context. */
struct handle *handle_create(cfoil_context *context, int32_t kind, void *body);

/* The first half of closing: true for the one caller that has to go on with handle_close_end(). */
int handle_close_begin(struct handle *handle);

/* Waits until no call is inside, takes the body out of the handle, puts the memory into the queue. */
void *handle_close_end(struct handle *handle);

/* Frees the memory of every handle that was closed. Nobody may use the context any more. */
void handles_free(cfoil_context *context);

#endif
