/*
 * A small file of secrets. See secret_file.h.
 */
#include "ledger/secret_file.h"

#include <errno.h>

#if defined(_WIN32)

#include <fcntl.h>
#include <io.h>
#include <sys/stat.h>

#define OPEN_READ  (_O_RDONLY | _O_BINARY)
#define OPEN_WRITE (_O_WRONLY | _O_BINARY)
#define open       _open
#define read       _read
#define write      _write
#define close      _close
#define fsync      _commit

static enum secret_answer owner_check(int file, const char *beside, enum file_rights allowed)
{
    (void)file;
    (void)beside;
    (void)allowed;
    return SECRET_READ; /* rights come from the folder there */
}

#else

#include <fcntl.h>
#include <sys/stat.h>
#include <unistd.h>

#define OPEN_READ  (O_RDONLY | O_CLOEXEC | O_NOFOLLOW | O_NONBLOCK)
#define OPEN_WRITE (O_WRONLY | O_CLOEXEC | O_NOFOLLOW)

static enum file_rights rights_of(mode_t mode)
{
    if ((mode & S_IRWXO) != 0)
        return FILE_RIGHTS_OTHERS;
    return (mode & S_IRWXG) != 0 ? FILE_RIGHTS_GROUP : FILE_RIGHTS_OWNER;
}

/* Looks at the open file, so that nobody can exchange it between looking and reading. */
static enum secret_answer owner_check(int file, const char *beside, enum file_rights allowed)
{
    struct stat ours;
    struct stat ledger;
    if (fstat(file, &ours) != 0)
        return SECRET_FAILED;
    if (!S_ISREG(ours.st_mode))
        return SECRET_NOT_PLAIN;
    if (ours.st_uid != geteuid() && (stat(beside, &ledger) != 0 || ledger.st_uid != ours.st_uid))
        return SECRET_OTHERS_OWNER;
    return rights_of(ours.st_mode) > allowed ? SECRET_RIGHTS : SECRET_READ;
}

#endif

/* ---- Reading ---- */

static enum secret_answer text_read(int file, char *text, size_t capacity, size_t *length)
{
    while (*length < capacity) {
        long count = (long)read(file, text + *length, (unsigned)(capacity - *length));
        if (count == 0)
            return SECRET_READ;
        if (count < 0 && errno != EINTR)
            return SECRET_FAILED;
        *length += count > 0 ? (size_t)count : 0;
    }
    char more;
    return read(file, &more, 1) == 0 ? SECRET_READ : SECRET_TOO_LARGE;
}

static enum secret_answer open_failed(int problem)
{
    if (problem == ENOENT)
        return SECRET_MISSING;
    return problem == ELOOP ? SECRET_NOT_PLAIN : SECRET_FAILED;
}

enum secret_answer secret_file_read(const char *path, const char *beside, enum file_rights allowed, char *text,
                                    size_t capacity, size_t *length, int *os_code)
{
    *length = 0;
    *os_code = 0;
    int file = open(path, OPEN_READ);
    enum secret_answer answer = file < 0 ? open_failed(errno) : owner_check(file, beside, allowed);
    if (answer == SECRET_READ)
        answer = text_read(file, text, capacity, length);
    if (answer == SECRET_FAILED)
        *os_code = errno;
    if (file >= 0)
        (void)close(file);
    return answer;
}

/* ---- Writing ---- */

static int all_write(int file, const char *text, size_t length)
{
    while (length > 0) {
        long count = (long)write(file, text, (unsigned)length);
        if (count < 0 && errno != EINTR)
            return errno;
        text += count > 0 ? count : 0;
        length -= count > 0 ? (size_t)count : 0;
    }
#if defined(F_FULLFSYNC) /* macOS: the disk's own buffer too */
    if (fcntl(file, F_FULLFSYNC) == 0)
        return 0;
#endif
    return fsync(file) == 0 ? 0 : errno;
}

int secret_file_write(const char *own_path, const char *path, const char *text, size_t length, bool replace)
{
    int problem = file_empty_make(own_path);
    if (problem != 0)
        return problem;
    int file = open(own_path, OPEN_WRITE);
    problem = file < 0 ? errno : all_write(file, text, length);
    if (file >= 0 && close(file) != 0 && problem == 0)
        problem = errno;
    if (problem == 0)
        problem = replace ? file_name_replace(own_path, path) : file_name_move(own_path, path);
    if (problem != 0)
        file_remove(own_path);
    return problem;
}
