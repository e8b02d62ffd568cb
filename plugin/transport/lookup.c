/*
 * How is a host name looked up without waiting longer than allowed? Numbers at once, names on a thread of their own,
 * which is left behind when it takes too long.
 */
#include "transport/lookup.h"

#include "model/error.h"
#include "model/memory.h"
#include "model/text.h"

#include <netdb.h>
#include <stdatomic.h>
#include <string.h>
#include <sys/socket.h>

#define AREA "transport"

/* Shared by the one who waits and the thread that looks up; the last one frees it. It lives on the C heap: a lookup
 * that was left behind may outlive the context and its allocator. */
struct lookup {
    atomic_int users;
    int answer; /* of getaddrinfo, read after `done` was seen set */
    struct addrinfo *addresses;
    struct os_signal *done;
    char host[512];
    char service[8];
};

static int addresses_get(const char *host, const char *service, int flags, struct addrinfo **addresses)
{
    struct addrinfo hints;
    memset(&hints, 0, sizeof hints);
    hints.ai_family = AF_UNSPEC;
    hints.ai_socktype = SOCK_STREAM;
    hints.ai_flags = AI_NUMERICSERV | flags;
    return getaddrinfo(host, service, &hints, addresses);
}

static void lookup_release(struct lookup *lookup)
{
    if (atomic_fetch_sub(&lookup->users, 1) > 1)
        return;
    if (lookup->addresses != NULL)
        freeaddrinfo(lookup->addresses);
    os_signal_destroy(&memory_heap, lookup->done);
    memory_release(&memory_heap, lookup);
}

static void lookup_run(void *user)
{
    struct lookup *lookup = user;
    lookup->answer = addresses_get(lookup->host, lookup->service, 0, &lookup->addresses);
    os_signal_set(lookup->done);
    lookup_release(lookup);
}

static struct lookup *lookup_create(const char *host, const char *service)
{
    struct lookup *lookup = memory_allocate(&memory_heap, sizeof *lookup);
    if (lookup == NULL)
        return NULL;
    lookup->done = os_signal_create(&memory_heap);
    if (lookup->done == NULL) {
        memory_release(&memory_heap, lookup);
        return NULL;
    }
    atomic_init(&lookup->users, 2);
    text_copy(lookup->host, sizeof lookup->host, host);
    text_copy(lookup->service, sizeof lookup->service, service);
    return lookup;
}

static int32_t missing(cfoil_error_info *error, int os_code, const char *host)
{
    return error_set(error, CFOIL_E_PORT_MISSING, os_code, AREA,
                     "Host %.120s has no address: check the name and the network.", host);
}

static int32_t lookup_collect(struct lookup *lookup, struct addrinfo **addresses, cfoil_error_info *error)
{
    if (lookup->answer == EAI_MEMORY)
        return error_memory_set(error, AREA);
    if (lookup->answer != 0)
        return missing(error, lookup->answer, lookup->host);
    *addresses = lookup->addresses;
    lookup->addresses = NULL;
    return CFOIL_OK;
}

static int32_t lookup_wait(struct lookup *lookup, struct os_thread *thread, uint64_t until_us,
                           const struct os_signal *wake, struct addrinfo **addresses, cfoil_error_info *error)
{
    int ready = os_wait(os_signal_handle(lookup->done), wake, until_us);
    if ((ready & OS_READY_PORT) != 0) {
        os_thread_join(&memory_heap, thread);
        return lookup_collect(lookup, addresses, error);
    }
    os_thread_leave(&memory_heap, thread);
    if ((ready & OS_READY_SIGNAL) != 0)
        return error_set(error, CFOIL_E_STATE_CLOSING, 0, AREA, "The lookup of the host was called off.");
    return missing(error, 0, lookup->host);
}

int32_t host_lookup(const char *host, const char *service, uint64_t until_us, const struct os_signal *wake,
                    struct addrinfo **addresses, cfoil_error_info *error)
{
    /* An address needs no name server and answers at once. */
    int answer = addresses_get(host, service, AI_NUMERICHOST, addresses);
    if (answer == 0)
        return CFOIL_OK;
    if (answer == EAI_MEMORY)
        return error_memory_set(error, AREA);
    struct lookup *lookup = lookup_create(host, service);
    if (lookup == NULL)
        return error_memory_set(error, AREA);
    struct os_thread *thread = os_thread_start(&memory_heap, "cfoil-lookup", lookup_run, lookup);
    int32_t result;
    if (thread != NULL) {
        result = lookup_wait(lookup, thread, until_us, wake, addresses, error);
    } else {
        lookup_release(lookup);
        result = error_set(error, CFOIL_E_SYSTEM_THREAD, 0, AREA, "No thread can be started to look up a host.");
    }
    lookup_release(lookup);
    return result;
}
