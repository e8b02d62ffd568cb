/*
 * The ledger's file before SQLite sees it. See file.h.
 */
#include "ledger/file.h"

#include "model/text.h"
#include "os/os.h"

#if defined(_WIN32)

#include <errno.h>
#include <fcntl.h>
#include <io.h>
#include <stdio.h>
#include <sys/stat.h>
#include <windows.h>

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

int file_empty_make(const char *path)
{
    int file = _open(path, _O_WRONLY | _O_CREAT | _O_EXCL | _O_BINARY, _S_IREAD | _S_IWRITE);
    return file < 0 ? errno : (_close(file), 0);
}

int file_name_move(const char *from, const char *to)
{
    return rename(from, to) == 0 ? 0 : errno; /* refuses an existing name there */
}

int file_name_replace(const char *from, const char *to)
{
    return MoveFileExA(from, to, MOVEFILE_REPLACE_EXISTING | MOVEFILE_WRITE_THROUGH) ? 0 : EACCES;
}

void file_remove(const char *path)
{
    (void)_unlink(path);
}

enum file_rights file_rights_read(const char *path)
{
    (void)path;
    return FILE_RIGHTS_OWNER; /* rights come from the folder there */
}

#else

#include <errno.h>
#include <fcntl.h>
#include <stdio.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

bool file_exists(const char *path)
{
    return access(path, F_OK) == 0;
}

int file_empty_make(const char *path)
{
    int file = open(path, O_WRONLY | O_CREAT | O_EXCL | O_CLOEXEC, 0600);
    if (file < 0)
        return errno;
    (void)close(file);
    return 0;
}

/* A name is on the disk once its folder is. A folder that cannot be flushed leaves only that to chance. */
static void folder_flush(const char *path)
{
    char folder[4097];
    const char *slash = strrchr(path, '/');
    size_t length = slash == NULL ? 0 : (size_t)(slash - path);
    if (length >= sizeof folder)
        return;
    memcpy(folder, path, length);
    folder[length] = '\0';
    int file = open(slash == NULL ? "." : length == 0 ? "/" : folder, O_RDONLY | O_CLOEXEC);
    if (file < 0)
        return;
    (void)fsync(file);
    (void)close(file);
}

int file_name_move(const char *from, const char *to)
{
    int problem = link(from, to) == 0 ? 0 : errno;
    if (problem == EPERM || problem == ENOTSUP) /* no second names on this file system */
        problem = access(to, F_OK) == 0 ? EEXIST : rename(from, to) == 0 ? 0 : errno;
    else if (problem == 0)
        (void)unlink(from);
    if (problem == 0)
        folder_flush(to);
    return problem;
}

int file_name_replace(const char *from, const char *to)
{
    if (rename(from, to) != 0)
        return errno;
    folder_flush(to);
    return 0;
}

void file_remove(const char *path)
{
    (void)unlink(path);
}

enum file_rights file_rights_read(const char *path)
{
    struct stat status;
    if (stat(path, &status) != 0)
        return FILE_RIGHTS_OWNER;
    if ((status.st_mode & S_IRWXO) != 0)
        return FILE_RIGHTS_OTHERS;
    return (status.st_mode & S_IRWXG) != 0 ? FILE_RIGHTS_GROUP : FILE_RIGHTS_OWNER;
}

/* The file gets its rights under a name of its own and only then the real name: closing a descriptor of the real file
 * would drop the locks that SQLite may hold on it in this process (fcntl locks belong to the process: POSIX.1-2017,
 * fcntl(), advisory record locking). */
static int file_make_as(const char *own_name, const char *path)
{
    int made = file_empty_make(own_name);
    if (made != 0)
        return made;
    int problem = link(own_name, path) == 0 ? 0 : errno;
    (void)unlink(own_name);
    /* Without second names the real one is made at once: a moment's risk for the locks, against a file for everybody. */
    if (problem == EPERM || problem == ENOTSUP)
        problem = file_empty_make(path);
    return problem == EEXIST ? 0 : problem;
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
