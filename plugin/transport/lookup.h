/*
 * Host names to addresses, with a deadline and a wake-up, neither of which the system's resolver knows.
 */
#ifndef TRANSPORT_LOOKUP_H
#define TRANSPORT_LOOKUP_H

#include "os/os.h"

#include <counterfoil/counterfoil.h>

struct addrinfo;

/* *addresses is to be freed with freeaddrinfo(). CFOIL_OK, CFOIL_E_PORT_MISSING, CFOIL_E_STATE_CLOSING when `wake` was
 * set, CFOIL_E_MEMORY, CFOIL_E_SYSTEM_THREAD. */
int32_t host_lookup(const char *host, const char *service, uint64_t until_us, const struct os_signal *wake,
                    struct addrinfo **addresses, cfoil_error_info *error);

#endif
