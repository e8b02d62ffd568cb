/*
 * The ledger's file before SQLite sees it. See file.h.
 */
#include "ledger/file.h"

#include "model/text.h"
#include "os/os.h"

#if defined(_WIN32)

#include <io.h>

bool file_exists(const char *path)
{
    return _access(path, 0) == 0;
}

int file_private_make(const struct memory *memory, const char *path)
{
    (void)memory;
    (void)path;
    return 0; /* rights come from the folder there */
}

#else

#include <errno.h>
#include <fcntl.h>
#include <stdio.h>
#include <string.h>
#include <unistd.h>

bool file_exists(const char *path)
{
    return access(path, F_OK) == 0;
}

/* The file gets its rights under a name of its own and only then the real name: closing a descriptor of the real file
 * would drop the locks that SQLite may hold on it in this process (fcntl locks belong to the process: POSIX.1-2017,
 * fcntl(), advisory record locking). */
static int file_make_as(const char *own_name, const char *path)
{
    int file = open(own_name, O_WRONLY | O_CREAT | O_EXCL | O_CLOEXEC, 0600);
    if (file < 0)
        return errno;
    (void)close(file);
    int problem = link(own_name, path) == 0 ? 0 : errno;
    (void)unlink(own_name);
    bool no_links = problem == EPERM || problem == ENOTSUP;
    return problem == EEXIST || no_links ? 0 : problem;
}

int file_private_make(const struct memory *memory, const char *path)
{
    uint8_t random[8];
    char hex[2 * sizeof random + 1];
    if (!os_random(random, sizeof random))
        return EIO;
    text_hex(random, sizeof random, hex);
    size_t size = strlen(path) + 1 + sizeof hex;
    char *own_name = memory_allocate(memory, size);
    if (own_name == NULL)
        return ENOMEM;
    (void)snprintf(own_name, size, "%s.%s", path, hex);
    int problem = file_make_as(own_name, path);
    memory_release(memory, own_name);
    return problem;
}

#endif
